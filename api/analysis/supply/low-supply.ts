import { CELL, type StandingCells } from './standing-cells.ts';

/** Recoveries shorter than this are bridged, before the time asked is asked. */
export const BRIDGED_RECOVERY_MS = 120_000;
export const LEAST_LOW_MS = 60_000;
/** Qualifying periods: at least an hour (reference: supply-pressure duties, "one hour or more"). */
export const QUALIFYING_MS = 3_600_000;
export const LEAST_BELOW_SHARE = 0.9;
/** More unknown than this within a period ends it, unless it is a draw with low supply on both sides. */
const LONGEST_UNKNOWN_MS = 120_000;
/** A single cell is smoothed over up to this much where its own noise would flicker about the threshold. */
const LONGEST_SMOOTHING_MS = 60_000;
/** No less than this is worth smoothing, or doubting: it moves an end by less than a cell. */
const SMOOTH_TO_SD_BAR = 0.004;
/**
 * Nearer to a limit than so many deviations of what other accounts of the draws leave open, a cell is as good as unknown.
 * By Cantelli's inequality the odds are even there at one deviation, and four to one at two: a period is found by the
 * former, and reaches as far as the latter where it has any.
 */
const FOUND_DOUBTS = 1;
const REACHED_DOUBTS = 2;
/** Where less than this share of a period found is beyond doubt, doubt is all over it and doesn't tell its ends. */
const LEAST_REACHED_SHARE = 2 / 3;
/** Coverage factor of the expanded uncertainty (JCGM 100, 6.3.3: about 95 %). */
const COVERAGE = 2;
/** The lowest is taken over so much, so that one restless cell doesn't name it. */
const LOWEST_MEAN_MS = 30_000;

export interface LowPeriod {
  readonly startMs: number;
  readonly endMs: number;
  readonly minBar: number;
  /** The middle of the lowest. */
  readonly lowestMs: number;
  readonly meanBar: number;
  readonly certain: boolean;
  /** Certain for the hour that a qualifying period asks. */
  readonly certainForQualifying: boolean;
  readonly belowFraction: number;
  readonly seenFraction: number;
  readonly qualifying: boolean;
  readonly standardUncertaintyBar: number;
}

/** Epoch milliseconds, half open. */
export interface LogSpan {
  readonly startMs: number;
  readonly endMs: number;
}

interface Span {
  readonly fromMs: number;
  readonly toMs: number;
  readonly belowMs: number;
}

/**
 * Periods of standing pressure below a threshold (definitions: low-supply period). Own draws are no part of standing
 * pressure; a draw whose inside isn't known, or may as well be another, belongs to a period that is known low on both its
 * sides; gaps end it.
 * @param thresholdBar at the logger's height
 * @param sensorBar standard uncertainty that all readings share
 * @param log from the first reading to the end of the last: a cell reaches past them by half its length
 */
export function findLowSupply(
  cells: StandingCells,
  thresholdBar: number,
  sensorBar: number,
  log: LogSpan = { startMs: Number.NEGATIVE_INFINITY, endMs: Number.POSITIVE_INFINITY },
): LowPeriod[] {
  const bar = smoothed(cells);
  const below = () => thresholdBar;
  const withinLog = (atMs: number) => Math.min(log.endMs, Math.max(log.startMs, atMs));
  const cellsOf = (span: Span): [number, number] => [
    Math.max(0, Math.floor((span.fromMs - cells.startMs) / cells.stepMs)),
    Math.min(cells.count, Math.ceil((span.toMs - cells.startMs) / cells.stepMs) + 1),
  ];
  const lasts = (span: Span) => span.toMs - span.fromMs >= LEAST_LOW_MS;
  return spansBelow(cells, bar, below, FOUND_DOUBTS, 0, cells.count)
    .filter(lasts)
    .map((found) => {
      const reached = spansBelow(cells, bar, below, REACHED_DOUBTS, ...cellsOf(found)).filter(lasts);
      return hullOf(reached, found);
    })
    .map((span) => {
      const [from, to] = cellsOf(span);
      const sure = (k: number) =>
        thresholdBar - COVERAGE * Math.sqrt(sensorBar ** 2 + cells.sdBar[k]! ** 2 - cells.doubtSdBar[k]! ** 2);
      const certain = spansBelow(cells, bar, sure, COVERAGE, from, to).map((inner) => inner.toMs - inner.fromMs);
      const length = span.toMs - span.fromMs;
      const belowFraction = Math.min(1, span.belowMs / length);
      return {
        startMs: withinLog(span.fromMs),
        endMs: withinLog(span.toMs),
        ...levels(cells, bar, from, to, thresholdBar, sensorBar, withinLog),
        certain: certain.some((ms) => ms >= LEAST_LOW_MS),
        certainForQualifying: certain.some((ms) => ms >= QUALIFYING_MS),
        belowFraction,
        qualifying: length >= QUALIFYING_MS && belowFraction >= LEAST_BELOW_SHARE,
      };
    });
}

/** From the first to the last of some spans within another; that one where they leave most of it open. */
function hullOf(spans: readonly Span[], found: Span): Span {
  if (spans.length === 0) return found;
  const { fromMs } = spans[0]!;
  const { toMs } = spans.at(-1)!;
  const belowMs = spans.reduce((sum, span) => sum + span.belowMs, 0);
  return toMs - fromMs < LEAST_REACHED_SHARE * (found.toMs - found.fromMs) ? found : { fromMs, toMs, belowMs };
}

/** Stretches below a limit, bridged; their edges are crossings between cells. */
function spansBelow(
  cells: StandingCells,
  bar: Float64Array,
  limit: (k: number) => number,
  doubts: number,
  from: number,
  to: number,
): Span[] {
  const { startMs, stepMs, state } = cells;
  const raw: { fromMs: number; toMs: number; cut: boolean }[] = [];
  const at = (k: number) => startMs + k * stepMs;
  let open: number | undefined;
  let last = -1;
  let unknownMs = 0;
  let cutBefore = true;
  let wasDoubted = false;
  const close = (toMs: number, cut: boolean): void => {
    if (open !== undefined) raw.push({ fromMs: open, toMs, cut });
    open = undefined;
  };
  for (let k = from; k < to; k++) {
    if (Number.isNaN(bar[k]!)) {
      // A hidden draw costs nothing here: what lies on its far side decides.
      if (state[k] === CELL.absent) unknownMs += stepMs;
      if (unknownMs > LONGEST_UNKNOWN_MS) {
        if (open !== undefined) close(at(last) + stepMs / 2, true);
        cutBefore = true;
      }
      continue;
    }
    const away = bar[k]! - limit(k);
    const doubt = cells.doubtSdBar[k]!;
    // What may as well be another draw says as little as a hidden one.
    if (doubt > SMOOTH_TO_SD_BAR && Math.abs(away) < doubts * doubt) {
      wasDoubted = true;
      continue;
    }
    const below = away < 0;
    const apart = last >= 0 && last < k - 1;
    const crossingMs =
      last >= 0 && !cutBefore ? at(last) + share(bar, last, k, limit) * (k - last) * stepMs : at(k) - stepMs / 2;
    if (below && open === undefined) open = apart && (cutBefore || wasDoubted) ? at(k) - stepMs / 2 : crossingMs;
    else if (!below && open !== undefined) close(apart ? at(last) + stepMs / 2 : crossingMs, false);
    last = k;
    unknownMs = 0;
    cutBefore = false;
    wasDoubted = false;
  }
  if (open !== undefined) close(at(last) + stepMs / 2, true);
  const spans: { fromMs: number; toMs: number; belowMs: number; cut: boolean }[] = [];
  for (const piece of raw) {
    const before = spans.at(-1);
    if (before && !before.cut && piece.fromMs - before.toMs < BRIDGED_RECOVERY_MS) {
      before.toMs = piece.toMs;
      before.belowMs += piece.toMs - piece.fromMs;
      before.cut = piece.cut;
    } else spans.push({ ...piece, belowMs: piece.toMs - piece.fromMs });
  }
  return spans;
}

function share(bar: Float64Array, a: number, b: number, limit: (k: number) => number): number {
  const before = bar[a]! - limit(a);
  const after = bar[b]! - limit(b);
  return before === after ? 0.5 : Math.min(1, Math.max(0, before / (before - after)));
}

/** Cells averaged with their neighbours as far as their noise asks for it. */
function smoothed(cells: StandingCells): Float64Array {
  const { bar, sdBar, stepMs, count } = cells;
  const widest = Math.floor(LONGEST_SMOOTHING_MS / stepMs / 2);
  if (widest < 1) return bar;
  const result = new Float64Array(count).fill(Number.NaN);
  for (let k = 0; k < count; k++) {
    if (Number.isNaN(bar[k]!)) continue;
    const wanted = (sdBar[k]! ** 2 - cells.doubtSdBar[k]! ** 2) / SMOOTH_TO_SD_BAR ** 2;
    const reach = cells.state[k] === CELL.seen ? Math.min(widest, Math.floor(wanted / 2)) : 0;
    let sum = 0;
    let n = 0;
    for (let j = Math.max(0, k - reach); j <= Math.min(count - 1, k + reach); j++) {
      if (!Number.isNaN(bar[j]!)) {
        sum += bar[j]!;
        n++;
      }
    }
    result[k] = sum / n;
  }
  return result;
}

function levels(
  cells: StandingCells,
  bar: Float64Array,
  from: number,
  to: number,
  thresholdBar: number,
  sensorBar: number,
  withinLog: (atMs: number) => number,
): Pick<LowPeriod, 'minBar' | 'lowestMs' | 'meanBar' | 'seenFraction' | 'standardUncertaintyBar'> {
  const reach = Math.max(0, Math.round(LOWEST_MEAN_MS / cells.stepMs / 2 - 0.5));
  const isLow = (k: number) => bar[k]! < thresholdBar;
  let minBar = Number.POSITIVE_INFINITY;
  let lowest = from;
  let sum = 0;
  let variance = 0;
  let known = 0;
  let seen = 0;
  for (let k = from; k < to; k++) {
    if (!isLow(k)) continue;
    known++;
    sum += bar[k]!;
    variance += cells.sdBar[k]! ** 2;
    if (cells.state[k] === CELL.seen) seen++;
    let near = 0;
    let n = 0;
    for (let j = Math.max(from, k - reach); j <= Math.min(to - 1, k + reach); j++) {
      // A neighbour that is not low is no part of the period's levels.
      if (!isLow(j)) continue;
      near += bar[j]!;
      n++;
    }
    if (near / n >= minBar) continue;
    minBar = near / n;
    lowest = k;
  }
  return {
    minBar: Math.min(minBar, sum / known),
    lowestMs: withinLog(cells.startMs + lowest * cells.stepMs),
    meanBar: sum / known,
    seenFraction: seen / known,
    standardUncertaintyBar: Math.hypot(sensorBar, Math.sqrt(variance / known)),
  };
}
