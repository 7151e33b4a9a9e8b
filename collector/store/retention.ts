import type { Placement } from '../model/logger.ts';
import { HOUR_MS, type HourNumber } from './hours.ts';

/** Hours from `from` up to, not including, `to`. */
export interface HourRange {
  readonly from: HourNumber;
  readonly to: HourNumber;
}

/**
 * The hours of a logger whose samples its sites no longer keep, ascending. `cutHour` gives the first hour that a site
 * still keeps (minus infinity: all of them; so does nobody's house). An hour in which the logger was moved goes by the
 * place that keeps it longer. A logger's first placement also covers what is older than it.
 */
export function dueHours(
  placements: readonly Placement[],
  cutHour: (siteId: string | undefined) => HourNumber,
): HourRange[] {
  const sorted = [...placements].sort((a, b) => a.fromMs - b.fromMs);
  const stays = sorted.map((placement, i) => ({
    fromMs: i === 0 ? 0 : Math.max(0, placement.fromMs),
    toMs: sorted[i + 1]?.fromMs ?? Number.POSITIVE_INFINITY,
    cut: cutHour(placement.siteId),
  }));
  const ranges: HourRange[] = [];
  for (const stay of stays) {
    const from = Math.ceil(stay.fromMs / HOUR_MS);
    const to = Math.min(Math.floor(stay.toMs / HOUR_MS), stay.cut);
    if (from < to) ranges.push({ from, to });
  }
  const shared = new Set(
    stays.slice(1).flatMap(({ fromMs }) => (fromMs % HOUR_MS === 0 ? [] : Math.floor(fromMs / HOUR_MS))),
  );
  for (const hour of shared) {
    const within = stays.filter((stay) => stay.fromMs < (hour + 1) * HOUR_MS && stay.toMs > hour * HOUR_MS);
    if (within.every((stay) => hour < stay.cut)) ranges.push({ from: hour, to: hour + 1 });
  }
  return ranges.sort((a, b) => a.from - b.from);
}
