import { instantOfLocal, localDays } from '../../../collector/model/local-time.ts';
import { COVERAGE_FACTOR } from '../uncertainty/combine.ts';
import { indexRange, type Judged, judgeWindow, level, MEAN_MS, RECOVERY_MS, slidingMean } from './judge-window.ts';
import type { StandingPressure } from './standing-pressure.ts';

export const SAG_WINDOWS = [
  { window: 'morning', fromHour: 5, toHour: 11 },
  { window: 'evening', fromHour: 17, toHour: 23 },
] as const;
export type SagWindow = (typeof SAG_WINDOWS)[number]['window'];
export const NIGHT_HOURS = [1, 5] as const;
/** Hours between the windows and as long: whether a day falls as far without a rush. */
export const MIDDAY_HOURS = [11, 17] as const;

export interface WindowJudgement {
  readonly day: string;
  readonly weekday: number;
  readonly window: SagWindow;
  readonly windowStartMs: number;
  readonly state: 'present' | 'absent' | 'unknown';
  readonly reason?: string;
  readonly startMs?: number;
  readonly lowestMs?: number;
  readonly endMs?: number;
  readonly depthBar?: number;
  readonly depthSdBar?: number;
  readonly nightLevelBar?: number;
  readonly lowestBar?: number;
  readonly startsBefore?: boolean;
  readonly recovered?: boolean;
  /** Whether the same day fell as far at midday, by the same rule; undefined where the night isn't known. */
  readonly midday?: WindowJudgement['state'];
  /** No window of such a log can be told, however many days it has. */
  readonly beyondRate?: boolean;
}

/** Whether the depth lies further from the least that counts than its expanded uncertainty (k = 2). */
export function isBeyondDoubt(depthBar: number, depthSdBar: number, minDepthBar: number): boolean {
  return Math.abs(depthBar - minDepthBar) >= COVERAGE_FACTOR * depthSdBar;
}

/** Fall of the 5-minute mean below the night's level, per local day and window (definitions: sag). */
export function findSags(
  standing: StandingPressure,
  endMs: number,
  timeZone: string,
  minDepthBar: number,
): WindowJudgement[] {
  const mean = slidingMean(standing);
  const beyondRate = standing.stepMs > MEAN_MS;
  const found: WindowJudgement[] = [];
  for (const day of localDays(standing.startMs, endMs, timeZone)) {
    const at = (hour: number) => instantOfLocal(day.date, hour, 0, timeZone);
    const night = level(standing, at(NIGHT_HOURS[0]), at(NIGHT_HOURS[1]));
    const windows = SAG_WINDOWS.map(({ window, fromHour, toHour }) => ({
      place: { day: day.date, weekday: day.weekday, window, windowStartMs: at(fromHour) },
      toMs: at(toHour),
    }));
    if (beyondRate || night === undefined) {
      const why = beyondRate
        ? { reason: `one reading in ${minutesInWords(standing.stepMs)} can’t show a 5-minute mean`, beyondRate }
        : { reason: 'the night level (01:00 to 05:00) is not known' };
      found.push(...windows.map(({ place }) => ({ ...place, state: 'unknown' as const, ...why })));
      continue;
    }
    const judged = windows.map(({ place, toMs }) =>
      judgeWindow(standing, mean, night, place.windowStartMs, toMs, minDepthBar),
    );
    const line = night.bar - minDepthBar;
    const [morning, evening] = judged;
    const midday = judgeWindow(
      standing,
      mean,
      night,
      morningOver(standing, mean, morning!, line, at(MIDDAY_HOURS[0])),
      eveningBegun(standing, mean, evening!, line, at(MIDDAY_HOURS[1])),
      minDepthBar,
    ).state;
    windows.forEach(({ place }, i) => {
      found.push({ ...place, nightLevelBar: night.bar, midday, ...judged[i]! });
    });
  }
  return found;
}

function minutesInWords(ms: number): string {
  const minutes = Math.round(ms / 60_000);
  return minutes < 120 ? `${minutes} min` : `${Math.round(minutes / 60)} h`;
}

/*
 * Midday is not asked about the tail of a morning's sag, nor about the head of an evening's: those falls are told where
 * they belong. No more than the hour that a recovery may run past its window is left out, so that a fall of a whole day
 * counts at midday as well.
 */
function morningOver(
  standing: StandingPressure,
  mean: Float64Array,
  sag: Judged,
  lineBar: number,
  fromMs: number,
): number {
  if (sag.state !== 'present') return fromMs;
  const [first, latest] = indexRange(standing, fromMs, fromMs + RECOVERY_MS);
  let j = Math.max(0, first);
  while (j < latest && j < mean.length && !(mean[j]! >= lineBar)) j++;
  return Math.max(fromMs, standing.startMs + j * standing.stepMs);
}

function eveningBegun(
  standing: StandingPressure,
  mean: Float64Array,
  sag: Judged,
  lineBar: number,
  toMs: number,
): number {
  if (sag.state !== 'present') return toMs;
  const [earliest, after] = indexRange(standing, toMs - RECOVERY_MS, toMs);
  let j = Math.min(after, mean.length) - 1;
  while (j >= Math.max(0, earliest) && !(mean[j]! >= lineBar)) j--;
  return Math.min(toMs, standing.startMs + (j + 1) * standing.stepMs);
}
