import type { SupplyRows } from './account-window.ts';

/** A stretch that is known to be drawn from, whatever the reading shows: a pump's run. Epoch milliseconds, half open. */
export interface KnownStretch {
  readonly startMs: number;
  readonly endMs: number;
}

/** The idle level beside a known draw is the mean of so many readings, taken so near to it, or within so many intervals. */
const LEVEL_ROWS = 5;
const LEVEL_WITHIN_MS = 60_000;
const LEVEL_WITHIN_INTERVALS = 2.5;

/**
 * The rows as if nobody had drawn in the known stretches: a straight line from the idle level before each to the one
 * after it, so that the account of the other draws finds no edge there. What they truly were stays unknown. Linear time.
 * @param known ascending, without an overlap
 */
export function withoutKnownDraws(rows: SupplyRows, known: readonly KnownStretch[], intervalMs: number): SupplyRows {
  if (known.length === 0) return rows;
  const { timeMs } = rows;
  const bar = rows.pressureBar.slice();
  const spans = spansOfRows(timeMs, known);
  const within = Math.max(LEVEL_WITHIN_MS, LEVEL_WITHIN_INTERVALS * intervalMs);
  for (const [k, { from, to }] of spans.entries()) {
    const before = levelBeside(rows, from - 1, spans[k - 1]?.to ?? 0, timeMs[from]!, within);
    const after = levelBeside(rows, to, (spans[k + 1]?.from ?? timeMs.length) - 1, timeMs[to - 1]!, within);
    const first = before ?? after ?? meanOf(bar, from, to);
    const last = after ?? first;
    const spanMs = Math.max(1, timeMs[to - 1]! - timeMs[from]!);
    for (let i = from; i < to; i++) {
      if (!Number.isNaN(bar[i]!)) bar[i] = first + ((last - first) * (timeMs[i]! - timeMs[from]!)) / spanMs;
    }
  }
  return { ...rows, pressureBar: bar };
}

/** Rows [from, to) of each stretch; those without a row between them are one. */
function spansOfRows(timeMs: Float64Array, known: readonly KnownStretch[]): { from: number; to: number }[] {
  const spans: { from: number; to: number }[] = [];
  let row = 0;
  for (const { startMs, endMs } of known) {
    while (row < timeMs.length && timeMs[row]! < startMs) row++;
    const from = row;
    while (row < timeMs.length && timeMs[row]! < endMs) row++;
    if (row === from) continue;
    const last = spans.at(-1);
    if (last && last.to === from) last.to = row;
    else spans.push({ from, to: row });
  }
  return spans;
}

/** Mean of the usable rows from a stretch's neighbour on up to another row; undefined where none lies near. */
function levelBeside(
  { timeMs, pressureBar }: SupplyRows,
  row: number,
  until: number,
  edgeMs: number,
  withinMs: number,
): number | undefined {
  let sum = 0;
  let n = 0;
  const step = until < row ? -1 : 1;
  for (let i = row; i >= 0 && i < timeMs.length && n < LEVEL_ROWS; i += step) {
    if (Math.abs(timeMs[i]! - edgeMs) > withinMs) break;
    if (!Number.isNaN(pressureBar[i]!)) {
      sum += pressureBar[i]!;
      n++;
    }
    if (i === until) break;
  }
  return n === 0 ? undefined : sum / n;
}

function meanOf(bar: Float64Array, from: number, to: number): number {
  let sum = 0;
  let n = 0;
  for (let i = from; i < to; i++) {
    if (Number.isNaN(bar[i]!)) continue;
    sum += bar[i]!;
    n++;
  }
  return sum / n;
}
