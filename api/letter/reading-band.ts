import type { SummarySeries } from '../../collector/model/series.ts';
import type { Shape } from './drawing.ts';

/** Buckets narrower than this on paper share a column, with the lowest and highest of them. */
const NARROWEST_COLUMN = 0.5;
/** Buckets further apart than this many of their own widths leave a gap. */
const GAP_STEPS = 1.5;

interface Column {
  readonly from: number;
  to: number;
  min: number;
  max: number;
}

/**
 * The range of the readings as a pale band: each bucket from its start to its end between its lowest and highest reading,
 * in steps, since nothing is known of what lies between; broken where readings are missing.
 */
export function readingBand(
  envelope: Pick<SummarySeries, 'startMs' | 'min' | 'max' | 'stepMs'>,
  span: { readonly fromMs: number; readonly toMs: number },
  x: (atMs: number) => number,
  y: (bar: number) => number,
): Shape[] {
  const { startMs, min, max, stepMs } = envelope;
  const pieces: Column[][] = [];
  let columns: Column[] = [];
  let lastMs = Number.NEGATIVE_INFINITY;
  for (let index = 0; index < startMs.length; index++) {
    const atMs = startMs[index]!;
    if (atMs + stepMs <= span.fromMs || atMs >= span.toMs) continue;
    const [low, high] = [min[index]!, max[index]!];
    if (Number.isNaN(low) || Number.isNaN(high)) continue;
    if (atMs - lastMs > stepMs * GAP_STEPS) {
      columns = [];
      pieces.push(columns);
    }
    lastMs = atMs;
    const [from, to] = [x(Math.max(atMs, span.fromMs)), x(Math.min(atMs + stepMs, span.toMs))];
    const column = columns.at(-1);
    if (column && to - column.from < NARROWEST_COLUMN) {
      column.to = Math.max(column.to, to);
      column.min = Math.min(column.min, low);
      column.max = Math.max(column.max, high);
    } else columns.push({ from, to, min: low, max: high });
  }
  return pieces.map((piece) => ({
    kind: 'area',
    ink: 'band',
    points: [...piece.flatMap(edge('max', y)), ...piece.flatMap(edge('min', y)).reverse()],
  }));
}

/** A band that a pump holds steady is no taller than a line; it stays as tall as a copier shows. */
const THINNEST = 0.35;

function edge(which: 'min' | 'max', y: (bar: number) => number) {
  const spread = which === 'max' ? -THINNEST : THINNEST;
  return (column: Column): [number, number][] => [
    [column.from, y(column[which]) + spread],
    [column.to, y(column[which]) + spread],
  ];
}
