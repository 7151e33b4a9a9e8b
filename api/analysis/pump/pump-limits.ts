import type { Position } from '../../../collector/model/channel.ts';
import type { MeterPlace } from '../findings.ts';

/** Up to this interval a pressure alone shows single starts of a household's pump. */
export const STARTS_SHOWN_S = 10;
/** Up to this interval starts 15 s apart can be told from one another. */
const RAPID_SHOWN_S = 5;

const BY_METER =
  'When the pump ran is told by the flow on its own line: a pump that turns without lifting water doesn’t show, and one that ' +
  'stands while the street’s own pressure feeds the house looks as if it ran.';
const BY_METER_ALONE =
  'On the pump’s own line no water passes while it rests, so that whether the household drew isn’t told by that meter: the pressure ' +
  'behind the pump would tell.';
const METER_BEHIND =
  'The flow meter sees what the household draws, from the vessel as well: when the pump starts can’t be told by it. The pump’s own ' +
  'channel, the pressure behind it, or a meter between it and its vessel would tell.';
const METER_UNKNOWN =
  'Whether the flow meter sits on the pump’s own line or behind its vessel isn’t said and doesn’t show, so that no starts are told ' +
  'by it: say so in the description of the site (flowMeter.meters).';
const METER_TELLS_NOTHING =
  'The flow meter on the pump’s line shows no flow, or never a rest: no start of the pump is told by it.';
const BESIDE = { household: METER_BEHIND, pump: METER_TELLS_NOTHING, unknown: METER_UNKNOWN } as const;

/**
 * What the log's rate and channels could not show, in words.
 * @param by what told the pump's runs
 * @param beside what a flow meter sees that didn't tell them
 */
export function pumpLimits(
  seconds: number,
  position: Position,
  by: 'channel' | 'flow' | 'pressure',
  beside: MeterPlace | 'unknown' | undefined,
): string[] {
  const atOutlet = position === 'pump_outlet';
  if (!atOutlet && by === 'pressure') {
    return beside === undefined ? [] : [BESIDE[beside]];
  }
  const every = `${Math.round(seconds)} s`;
  const limits: string[] = [];
  if (seconds > RAPID_SHOWN_S) {
    const days =
      seconds <= STARTS_SHOWN_S * 1.5 && atOutlet
        ? ' Days of rapid cycling are told by how the readings jump to and fro, not start by start.'
        : '';
    limits.push(
      `At a reading every ${every}, starts less than ${Math.round(2 * seconds)} s apart can’t be told apart.${days}`,
    );
  }
  if (seconds > STARTS_SHOWN_S * 1.5) limits.push(coarseLimit(every, by));
  if (by === 'flow') limits.push(BY_METER, ...(atOutlet ? [] : [BY_METER_ALONE]));
  if (by === 'pressure') {
    limits.push(
      'Without a channel that tells when the pump runs, a pump that doesn’t start and one that turns without lifting ' +
        'look alike, and one that doesn’t stop doesn’t show; nor does how long it spins up.',
    );
  }
  return limits;
}

function coarseLimit(every: string, by: 'channel' | 'flow' | 'pressure'): string {
  switch (by) {
    case 'channel':
      return `At a reading every ${every}, runs shorter than that are missed, and whether a start was on demand isn’t told.`;
    case 'flow':
      return `At a reading every ${every}, a run shorter than that is told by its litres, to within the reading; whether a start was on demand isn’t told.`;
    case 'pressure':
      return (
        `At a reading every ${every}, only starts with minutes between them show in the pressure; short cycles, and ` +
        'whether a start was on demand, don’t.'
      );
    default:
      return by satisfies never;
  }
}
