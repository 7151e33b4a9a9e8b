import type { AnalysisSite, PumpStateKind } from '../findings.ts';
import {
  AT_TOP_SHARE,
  BELOW_SHARE,
  HELD_HIGH_MS,
  HELD_LOW_MS,
  HELD_LOW_ROWS,
  LIFTS_SHARE,
  LONGEST_DEMAND_MS,
  MOST_OF_RUN,
  NO_SWITCH_WAITS_SHARE,
  RUN_ON_MS,
} from './pump-states.ts';

const percent = (share: number): string => `${Math.round(100 * share)} %`;
const RUN_ON_MINUTES = RUN_ON_MS / 60_000;
const HELD_LOW =
  `the pressure stays for at least ${HELD_LOW_MS / 1000} s and ${HELD_LOW_ROWS} readings below the cut-in, by more ` +
  `than ${percent(BELOW_SHARE)} of the switch’s band`;

/** The rule by which a state is told, with the figures that it goes by. */
export function stateRule(kind: PumpStateKind, { pump }: AnalysisSite): string {
  switch (kind) {
    case 'runs_on':
      return (
        `A run of at least ${RUN_ON_MINUTES} min that doesn’t reach the cut-out; or ${HELD_LOW} while it is held at ` +
        `${percent(LIFTS_SHARE)} of the cut-in or more, so that the pump does lift.`
      );
    case 'no_rise':
      return (
        `The pump’s own channel says that it runs, and ${HELD_LOW} and under ${percent(LIFTS_SHARE)} of the cut-in; or a ` +
        `run of at least ${RUN_ON_MINUTES} min spends ${percent(MOST_OF_RUN)} of it below the cut-in.`
      );
    case 'did_not_start':
      return (
        `${HELD_LOW.charAt(0).toUpperCase()}${HELD_LOW.slice(1)}, and the pump’s own channel says off for most of it; ` +
        `without such a channel, under ${percent(LIFTS_SHARE)} of the cut-in. Where no cut-in is known and the channel never ` +
        `says on, ${RUN_ON_MINUTES} min below ${percent(NO_SWITCH_WAITS_SHARE)} of the pressure that was held otherwise.`
      );
    case 'did_not_stop':
      return (
        `The pump’s own channel says that it runs for at least ${RUN_ON_MINUTES} min while the pressure holds at the ` +
        `cut-out or above, or within ${percent(AT_TOP_SHARE)} of the switch’s band below it, or lies above the cut-out for ` +
        `${HELD_HIGH_MS / 1000} s of that in all; where no cut-out is known, ` +
        `that it runs for ${LONGEST_DEMAND_MS / 3_600_000} h or longer without a pause.`
      );
    case 'too_many_starts': {
      const source = pump?.startsLimitSource === undefined ? '' : `, by ${pump.startsLimitSource}`;
      return `More starts in any 60 min in a row than the limit set for this pump (${pump?.mostStartsPerHour} an hour${source}).`;
    }
    case 'outside_hours': {
      const [from, to] = pump?.allowedHours ?? [0, 24];
      return (
        `Starts outside the hours set for this pump, from ${from} to ${to} by the site’s clock; those within an hour of ` +
        'one another are one spell.'
      );
    }
    default:
      return kind satisfies never;
  }
}
