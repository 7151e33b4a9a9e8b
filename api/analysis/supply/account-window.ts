import { gapLimitMs } from '../quality/gaps.ts';
import { LONGEST_DRAW_MS } from './draw-courses.ts';

/** Cleaned rows of a log, ascending in time; NaN in `pressureBar` where a reading isn't used. */
export interface SupplyRows {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
}

/**
 * Usable rows of one window, without holes: [from, to) are to be accounted for, those before `from` are known to be idle
 * and only show the levels there.
 */
export interface AccountWindow {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
  readonly from: number;
  readonly to: number;
  /** Whether a gap, or the log's beginning, lies before `from`; and a gap or its end after `to`. */
  readonly opensBlock: boolean;
  readonly closesBlock: boolean;
  /** First of the log's rows after the window. */
  readonly nextRow: number;
}

/** Where accounts meet: a row of the log at which nobody draws, or a block's first one. */
export interface Seam {
  readonly row: number;
  readonly opensBlock: boolean;
}

const HOUR_MS = 3_600_000;
/**
 * Accounts meet in the quietest moment between so many hours after they began: the latter is a day, so that most of
 * them meet at night.
 */
const SEAM_FROM_MS = 16 * HOUR_MS;
const SEAM_TO_MS = 24 * HOUR_MS;
/** Where nothing is quiet, a window grows by this, up to so much. */
const GROWTH_MS = 12 * HOUR_MS;
const MOST_MS = 5 * 24 * HOUR_MS;
/** What comes after a seam still tells whether a draw before it is one: the longest draw, and an hour. */
const LOOK_AHEAD_MS = LONGEST_DRAW_MS + HOUR_MS;

/** Rows of the log that a window takes in, from usable row to usable row. */
function reach(rows: SupplyRows, seam: Seam, spanMs: number, blockGapMs: number) {
  const { timeMs, pressureBar } = rows;
  let last = seam.row;
  const untilMs = timeMs[seam.row]! + spanMs;
  for (let i = seam.row + 1; i < timeMs.length; i++) {
    if (Number.isNaN(pressureBar[i]!)) continue;
    if (timeMs[i]! - timeMs[last]! >= blockGapMs) return { last, nextRow: i, closesBlock: true, whole: true };
    if (timeMs[i]! >= untilMs) return { last, nextRow: i, closesBlock: false, whole: true };
    last = i;
  }
  return { last, nextRow: timeMs.length, closesBlock: true, whole: false };
}

/**
 * The window from a seam on; undefined where more rows are needed to tell how far it reaches.
 * @param contextRows usable rows before the seam that show the levels there
 * @param isLast no more rows will come
 */
export function windowFrom(
  rows: SupplyRows,
  seam: Seam,
  growth: number,
  intervalMs: number,
  contextRows: number,
  isLast: boolean,
): AccountWindow | undefined {
  const { timeMs, pressureBar } = rows;
  const blockGapMs = gapLimitMs(intervalMs) + intervalMs;
  const spanMs = SEAM_TO_MS + LOOK_AHEAD_MS + growth * GROWTH_MS;
  const { last, nextRow, closesBlock, whole } = reach(rows, seam, spanMs, blockGapMs);
  if (!whole && !isLast) return undefined;
  let first = seam.row;
  let context = 0;
  let known = seam.row;
  for (let i = seam.row - 1; !seam.opensBlock && i >= 0 && context < contextRows; i--) {
    if (Number.isNaN(pressureBar[i]!)) continue;
    if (timeMs[known]! - timeMs[i]! >= blockGapMs) break;
    known = i;
    first = i;
    context++;
  }
  let holes = 0;
  for (let i = first; i <= last; i++) if (Number.isNaN(pressureBar[i]!)) holes++;
  const without = (column: Float64Array): Float64Array => {
    if (holes === 0) return column.subarray(first, last + 1);
    const picked = new Float64Array(last + 1 - first - holes);
    let k = 0;
    for (let i = first; i <= last; i++) if (!Number.isNaN(pressureBar[i]!)) picked[k++] = column[i]!;
    return picked;
  };
  return {
    timeMs: without(timeMs),
    pressureBar: without(pressureBar),
    flowLpm: rows.flowLpm && without(rows.flowLpm),
    from: context,
    to: last + 1 - first - holes,
    opensBlock: seam.opensBlock,
    closesBlock,
    nextRow,
  };
}

/**
 * The row of a window at which the next account may begin: the middle of its longest idle stretch in the hours where
 * accounts meet; undefined where none is long enough and the window may still grow.
 * @param busy rows [fromRow, toRow) with draws or edges, ascending by `fromRow`
 * @param leastRows rows that an idle stretch must have
 */
export function quietestRow(
  { timeMs, from, to }: AccountWindow,
  busy: readonly { readonly fromRow: number; readonly toRow: number }[],
  growth: number,
  leastRows: number,
): number | undefined {
  const startMs = timeMs[from]!;
  const earliest = firstRowAt(timeMs, from, to, startMs + SEAM_FROM_MS);
  const latest = firstRowAt(timeMs, from, to, startMs + SEAM_TO_MS + growth * GROWTH_MS);
  let idleFrom = earliest;
  let best: number | undefined;
  let longest = leastRows - 1;
  const idleUpTo = (row: number): void => {
    const rows = Math.min(row, latest) - idleFrom;
    if (rows <= longest) return;
    longest = rows;
    best = idleFrom + (rows >> 1);
  };
  for (const { fromRow, toRow } of busy) {
    idleUpTo(fromRow);
    idleFrom = Math.max(idleFrom, toRow);
  }
  idleUpTo(latest);
  if (best !== undefined) return best;
  return SEAM_TO_MS + growth * GROWTH_MS < MOST_MS ? undefined : latest;
}

/** The first row of [from, to) at or after a time; `to` where there is none. Stamps ascend. */
export function firstRowAt(timeMs: Float64Array, from: number, to: number, atMs: number): number {
  let low = from;
  let high = to;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! < atMs) low = middle + 1;
    else high = middle;
  }
  return low;
}
