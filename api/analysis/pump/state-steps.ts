import type { PumpStateKind, PumpTrend } from '../findings.ts';
import { curveSteps } from './curve-steps.ts';
import { PUMP_CAUTION } from './next-steps.ts';
import { type KnownOfPump, wearSteps } from './wear-steps.ts';

/* What to look at where a pump does not do what it is there for: common practice of the trade, no source. */

const STEPS: Record<Exclude<PumpStateKind, 'runs_on'>, readonly string[]> = {
  no_rise: [
    'Switch it off and leave it off until water reaches it: its seal is cooled by the water it moves and is spoiled within ' +
      'minutes without. See that the stop tap and every valve before it are open, that the strainer is clean, and what ' +
      'the inlet reads while it runs.',
    'Let the air out at its vent plug as the maker says, with the pump switched off. Have a cut-off for low inlet ' +
      'pressure fitted, so that it can’t turn dry again. What stood in a hot pump can scald.',
  ],
  did_not_start: [
    'See whether it has power: the breaker, the residual-current device, the motor’s own thermal trip, a dry-run ' +
      'cut-off that has locked. What trips again after one reset has a cause: leave it off and have it found.',
    'Where it has power and hums, it is stuck or its capacitor has failed; where it is silent, the switch or its small ' +
      'pressure pipe is blocked. Both are for a licensed electrician or the maker’s service.',
  ],
  did_not_stop: [
    'Switch it off by hand: a pump that runs against shut outlets heats its water until it scalds and its seal fails. ' +
      'Let it cool before anything is touched.',
    'Compare the cut-out with what the pump can reach at no flow (maker’s curve plus the inlet’s pressure): set above ' +
      'that, it never comes. Else the switch’s contacts stick, or its small pressure pipe is blocked.',
  ],
  too_many_starts: [
    'See what the cycling points to, and the hours of the day: each start heats the motor’s windings, and the limit is ' +
      'what it can shed. Where no fault is found the vessel is too small: for N starts an hour a pump that fills at ' +
      'Q l/min needs 15·Q/N litres between cut-out and cut-in.',
    'Compare the limit with the motor’s nameplate or the maker’s sheet, and enter where it stands.',
  ],
  outside_hours: [
    'Find what drew water at these hours: a softener that regenerates, an appliance on a timer, a cistern that fills, ' +
      'a dripping outlet. The chart shows at each start whether the pressure fell at once (a tap) or slowly (a leak).',
    'See that the pump’s own timer follows the clock, also after it was put forward or back.',
  ],
};

const ADD_CHANNEL =
  'To tell a pump that doesn’t start from one that turns without lifting, add a channel that says when it runs (`pump`, ' +
  'from a relay or a current sensor that an electrician fits).';

/** What to do next about a state, cautions last. */
export function stateSteps(kind: PumpStateKind, known: KnownOfPump): readonly string[] {
  if (kind === 'runs_on') return [...wearSteps(known), ...curveSteps(known.check), PUMP_CAUTION];
  if (kind === 'did_not_start' && !known.channel) return [ADD_CHANNEL, ...STEPS[kind], PUMP_CAUTION];
  return [...STEPS[kind], PUMP_CAUTION];
}

const TREND_STEPS: Record<PumpTrend['figure'], readonly string[]> = {
  filling: [
    'See first whether the main has fallen over the same days (a transducer before the pump, or a gauge at the same hour of ' +
      'several days): then the pump is sound. Else clean its strainer, and hold it against its curve: that needs the ' +
      'curve, the pressure before it and the flow.',
    'Have the vessel’s pre-charge checked with the water side drained: a vessel that takes more water fills more slowly, too.',
  ],
  cut_out: [
    'Compare the transducer with a gauge first: one that drifts looks alike. Then have the switch’s cut-out compared with ' +
      'its setting, and hold the pump against its curve.',
  ],
};

/** What to do next about a slow change for the worse. */
export function trendSteps({
  figure,
  perMonth,
}: Pick<PumpTrend, 'figure' | 'perMonth'>): readonly string[] | undefined {
  return perMonth < 0 ? [...TREND_STEPS[figure], PUMP_CAUTION] : undefined;
}
