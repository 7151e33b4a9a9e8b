import type { SeriesResponse } from '../../api/contract/payloads.ts';

/** Points that live samples may add to a fetched series: an hour at one a second. The oldest are let go. */
export const LIVE_POINTS = 3_600;

/**
 * A fetched series with samples that came since, folded into its buckets (or appended, where it is raw). Late samples
 * are left to the next fetch: a chart's times must ascend. Returns a new series; the given one isn't changed.
 */
export function withLiveSamples(
  series: SeriesResponse,
  timeMs: readonly number[],
  value: readonly number[],
  keepPoints = Number.POSITIVE_INFINITY,
): SeriesResponse {
  const next = {
    ...series,
    time: [...series.time],
    min: [...series.min],
    max: [...series.max],
    mean: [...series.mean],
    count: [...series.count],
  };
  for (let index = 0; index < timeMs.length; index++) {
    const atMs = timeMs[index]!;
    const at = value[index]!;
    const bucketMs = next.stepMs === null ? atMs : Math.floor(atMs / next.stepMs) * next.stepMs;
    const last = next.time.length - 1;
    const lastMs = next.time[last] ?? Number.NEGATIVE_INFINITY;
    if (bucketMs > lastMs) {
      next.time.push(bucketMs);
      next.min.push(at);
      next.max.push(at);
      next.mean.push(at);
      next.count.push(1);
    } else if (bucketMs === lastMs && next.stepMs !== null) {
      const count = next.count[last]! + 1;
      next.min[last] = Math.min(next.min[last]!, at);
      next.max[last] = Math.max(next.max[last]!, at);
      next.mean[last] = next.mean[last]! + (at - next.mean[last]!) / count;
      next.count[last] = count;
    }
  }
  const surplus = next.time.length - keepPoints;
  if (surplus > 0)
    for (const column of [next.time, next.min, next.max, next.mean, next.count]) column.splice(0, surplus);
  return next;
}
