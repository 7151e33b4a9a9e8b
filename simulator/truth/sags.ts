import { LocalCalendar } from '../local-day.ts';
import { centredMean, medianOf, runningSums } from './averages.ts';

export interface TrueSag {
  readonly day: string;
  readonly window: 'morning' | 'evening';
  readonly state: 'present' | 'absent' | 'unknown';
  readonly startMs?: number;
  readonly lowestMs?: number;
  readonly endMs?: number;
  readonly depthBar?: number;
  readonly startsBefore?: boolean;
  readonly recovered?: boolean;
}

const WINDOWS = [
  { window: 'morning', fromHour: 5, toHour: 11 },
  { window: 'evening', fromHour: 17, toHour: 23 },
] as const;
const NIGHT_HOURS = [1, 5] as const;
const MEAN_S = 300;
const STEP_S = 10;
const RECOVERY_MAY_TAKE_S = 3600;
/** How far before the window a sag's true beginning is looked for. */
const LOOKED_BACK_S = 4 * 3600;

/**
 * Morning 05–11 and evening 17–23 of each local day: the fall of the 5-minute mean of standing pressure under the median
 * of 01–05 of the same date. `unknown` where the night or the window isn't wholly in the series. One value a second.
 */
export function trueSags(startMs: number, standingBar: Float64Array, timeZone: string, minDepthBar: number): TrueSag[] {
  const sums = runningSums(standingBar);
  const endMs = startMs + standingBar.length * 1000;
  const index = (ms: number): number => Math.round((ms - startMs) / 1000);
  const timeAt = (i: number): number => startMs + i * 1000;
  const sags: TrueSag[] = [];
  for (const day of new LocalCalendar(timeZone).days(startMs, endMs)) {
    const nightFrom = day.at(NIGHT_HOURS[0]);
    const nightTo = day.at(NIGHT_HOURS[1]);
    const night =
      nightFrom >= startMs && nightTo <= endMs
        ? medianOf(standingBar, index(nightFrom), index(nightTo), 10)
        : undefined;
    for (const { window, fromHour, toHour } of WINDOWS) {
      const from = day.at(fromHour);
      const to = day.at(toHour);
      if (night === undefined || from < startMs || to > endMs) {
        sags.push({ day: day.date, window, state: 'unknown' });
        continue;
      }
      let lowest = index(from);
      let lowestBar = Number.POSITIVE_INFINITY;
      for (let i = index(from); i < index(to); i += STEP_S) {
        const bar = centredMean(sums, i, MEAN_S);
        if (bar < lowestBar) {
          lowestBar = bar;
          lowest = i;
        }
      }
      const depthBar = night - lowestBar;
      if (depthBar < minDepthBar) {
        sags.push({ day: day.date, window, state: 'absent', depthBar });
        continue;
      }
      const half = night - depthBar / 2;
      let start = lowest;
      const earliest = Math.max(0, index(from) - LOOKED_BACK_S);
      while (start > earliest && centredMean(sums, start, MEAN_S) < half) start -= STEP_S;
      let end = lowest;
      const latest = Math.min(standingBar.length, index(to) + RECOVERY_MAY_TAKE_S);
      while (end < latest && centredMean(sums, end, MEAN_S) < half) end += STEP_S;
      sags.push({
        day: day.date,
        window,
        state: 'present',
        startMs: timeAt(Math.max(start, 0)),
        lowestMs: timeAt(lowest),
        endMs: timeAt(Math.min(end, latest)),
        depthBar,
        ...(start < index(from) ? { startsBefore: true } : {}),
        ...(end >= latest ? { recovered: false } : {}),
      });
    }
  }
  return sags;
}
