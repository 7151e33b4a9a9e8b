import type { AnalysisColumns } from './findings.ts';

const COLUMNS = ['pressureBar', 'flowLpm', 'pumpOn', 'inletBar'] as const;
type Column = (typeof COLUMNS)[number];
const FEWEST_ROWS = 1024;

/** Columns that grow at the end. A column that came with no chunk so far is missing. */
export interface GrowingColumns {
  timeMs: Float64Array;
  readonly values: Partial<Record<Column, Float64Array>>;
  count: number;
  /** Whether the columns were made here; the first ones were given, and nobody writes into those. */
  owned: boolean;
}

export function beginColumns(): GrowingColumns {
  return { timeMs: new Float64Array(), values: {}, count: 0, owned: false };
}

/** Appends rows. The first ones are taken as they are, without copying; nobody writes into them. */
export function appendColumns(to: GrowingColumns, chunk: AnalysisColumns): void {
  const rows = chunk.timeMs.length;
  if (rows === 0) return;
  if (to.count === 0 && !to.owned) {
    to.timeMs = chunk.timeMs;
    for (const name of COLUMNS) if (chunk[name]) to.values[name] = chunk[name];
    to.count = rows;
    return;
  }
  const needed = to.count + rows;
  const capacity = needed > to.timeMs.length ? Math.max(FEWEST_ROWS, Math.ceil(1.5 * needed)) : to.timeMs.length;
  if (capacity > to.timeMs.length) {
    to.timeMs = grown(to.timeMs, to.count, capacity);
    to.owned = true;
  }
  to.timeMs.set(chunk.timeMs, to.count);
  for (const name of COLUMNS) {
    const given = chunk[name];
    const before = to.values[name];
    if (!given && !before) continue;
    const column = before && before.length >= capacity ? before : grown(before, before ? to.count : 0, capacity);
    if (given) column.set(given, to.count);
    else column.fill(Number.NaN, to.count, needed);
    to.values[name] = column;
  }
  to.count = needed;
}

/** Takes back the rows from one on: what is appended next stands in their place. Views given before may see it. */
export function truncateColumns(columns: GrowingColumns, rows: number): void {
  if (rows >= columns.count) return;
  if (!columns.owned) {
    columns.timeMs = grown(columns.timeMs, rows, Math.ceil(1.5 * columns.count));
    for (const name of COLUMNS) {
      const column = columns.values[name];
      if (column) columns.values[name] = grown(column, rows, columns.timeMs.length);
    }
    columns.owned = true;
  }
  columns.count = rows;
}

/** What has come so far, without copying; pressure that never came is no reading in every row. */
export function columnsSoFar({ timeMs, values, count }: GrowingColumns): AnalysisColumns {
  const part = (name: Column) => values[name]?.subarray(0, count);
  return {
    timeMs: timeMs.subarray(0, count),
    pressureBar: part('pressureBar') ?? new Float64Array(count).fill(Number.NaN),
    flowLpm: part('flowLpm'),
    pumpOn: part('pumpOn'),
    inletBar: part('inletBar'),
  };
}

function grown(column: Float64Array | undefined, kept: number, capacity: number): Float64Array {
  const larger = new Float64Array(capacity).fill(Number.NaN);
  if (column) larger.set(column.subarray(0, kept));
  return larger;
}
