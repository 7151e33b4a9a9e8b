import type { LoggerResource } from '../../api/contract/payloads.ts';
import { dateAndClock } from '../format.ts';
import type { SiteTime } from '../site-time.ts';

/** Until when single readings of some channel were erased by age; undefined where all of them stand. */
export function erasedUntilMs(loggers: readonly Pick<LoggerResource, 'extents'>[]): number | undefined {
  const ends = loggers
    .flatMap((logger) => logger.extents)
    .flatMap((extent) => (extent.samplesFrom ? [Date.parse(extent.samplesFrom)] : []));
  return ends.length === 0 ? undefined : Math.max(...ends);
}

/** Said in the diary, where days before it are missing and minutes still stand. */
export function erasedInDiary(erasedMs: number, time: SiteTime): string {
  return `Single readings before ${dateAndClock(erasedMs, time)} were erased by age, as the site is set. The lowest and highest of each of their minutes still stand, and a chart of that time draws them.`;
}

/** Said where a logger's samples can be taken along. */
export function erasedInFiles(erasedMs: number, time: SiteTime): string {
  return `Single readings from before ${dateAndClock(erasedMs, time)} were erased by age, as its site is set; their minutes are in the chart.`;
}
