import { bar, clockWithSeconds, shortDate, uncertaintyBar } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import type { ChartColumns } from './chart-data.ts';

/** What stands at a moment of the chart, in one line; the nearest points within a gap's width speak. */
export function readingsAt(atMs: number, columns: ChartColumns, standing: boolean, time: SiteTime): string {
  const index = nearest(columns.timeMs, atMs);
  const when = `${shortDate(time.parts(atMs).date)}, ${clockWithSeconds(atMs, time)}`;
  if (index < 0) return `${when}: nothing was logged.`;
  const line = valueNear(columns.line, index);
  const min = valueNear(columns.min, index);
  const max = valueNear(columns.max, index);
  const half = (valueNear(columns.upper, index) ?? Number.NaN) - (line ?? Number.NaN);
  const parts: string[] = [];
  if (line !== undefined)
    parts.push(
      `${standing ? 'standing' : 'mean'} ${bar(line)}${Number.isFinite(half) ? ` ${uncertaintyBar(half)}` : ''}`,
    );
  if (min !== undefined && max !== undefined)
    parts.push(`read ${bar(min)}${max - min >= 0.005 ? ` to ${bar(max)}` : ''}`);
  return parts.length > 0 ? `${when}: ${parts.join(', ')}.` : `${when}: nothing was logged.`;
}

function nearest(ascending: readonly number[], wanted: number): number {
  let low = 0;
  let high = ascending.length - 1;
  if (high < 0) return -1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ascending[middle]! < wanted) low = middle + 1;
    else high = middle;
  }
  return low > 0 && wanted - ascending[low - 1]! < ascending[low]! - wanted ? low - 1 : low;
}

/** The value at or beside an index, past points that only other lines have; undefined in a gap. */
function valueNear(column: readonly (number | null | undefined)[], index: number): number | undefined {
  for (let distance = 0; distance <= 4; distance++)
    for (const at of [column[index - distance], column[index + distance]]) {
      if (at === null) return undefined;
      if (at !== undefined) return at;
    }
  return undefined;
}
