import { changeInterval } from '../statistics/bootstrap.ts';
import { likelySplits } from '../statistics/change-point.ts';
import { correlatedValues } from '../statistics/moments.ts';
import { median, quantile } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA, medianAbsoluteDeviation } from '../statistics/robust.ts';
import type { StandingPressure } from './standing-pressure.ts';

export interface LevelChange {
  readonly atMs: number;
  readonly fromBar: number;
  readonly toBar: number;
  readonly sizeIntervalBar: readonly [number, number];
  readonly timeIntervalMs: readonly [number, number];
}

const DAY_MS = 86_400_000;
/** Definition of lasting: at least three days on each side. */
export const LASTING_MS = 3 * DAY_MS;
/** A smaller lasting change is within a cheap sensor's drift. */
const LEAST_CHANGE_BAR = 0.1;
/** And within what days differ by anyway. */
const LEAST_DEVIATIONS = 4;
/** Share of the time on each side that lies on its own side of the middle. */
const LEAST_KEPT_SHARE = 0.8;
/** Ten-minute means are alike for so long: six hours. */
const MOST_LAGS = 36;
const BIN_MS = 600_000;
const BINS_A_DAY = DAY_MS / BIN_MS;

/**
 * Lasting changes of standing pressure, told from what repeats every day: each ten minutes are compared with the same
 * ten minutes of other days, then split where two levels fit best (sum of absolute deviations), and again on each side.
 */
export function findLevelChanges(standing: StandingPressure): LevelChange[] {
  const bins = tenMinuteMeans(standing);
  if (bins.length < (2 * LASTING_MS) / BIN_MS) return [];
  const level = withoutDailyShape(bins);
  const changes: LevelChange[] = [];
  split(level, 0, level.length);
  return changes.sort((a, b) => a.atMs - b.atMs);

  function split(values: Float64Array, from: number, to: number): void {
    const least = LASTING_MS / BIN_MS;
    if (to - from < 2 * least) return;
    const side = clipped(values.subarray(from, to));
    const at = from + likelySplits(side, least, 1).best;
    const before = values.subarray(from, at).filter(Number.isFinite);
    const after = values.subarray(at, to).filter(Number.isFinite);
    if (before.length < least / 3 || after.length < least / 3) return;
    const low = median(before);
    const high = median(after);
    const size = high - low;
    const spread = MAD_TO_SIGMA * Math.max(medianAbsoluteDeviation(before), medianAbsoluteDeviation(after));
    // Ten minutes of one day resemble each other: a day counts as two independent values.
    const sd = spread * Math.sqrt(BINS_A_DAY / 2 / before.length + BINS_A_DAY / 2 / after.length);
    const middle = (low + high) / 2;
    const kept = (side: Float64Array, sign: number) =>
      side.filter((value) => (value - middle) * sign > 0).length / side.length;
    const direction = Math.sign(size);
    if (Math.abs(size) < Math.max(LEAST_CHANGE_BAR, LEAST_DEVIATIONS * sd)) return;
    if (kept(before, -direction) < LEAST_KEPT_SHARE || kept(after, direction) < LEAST_KEPT_SHARE) return;
    const raw = (a: number, b: number) => quantile(bins.subarray(a, b), 0.5);
    const binMs = (bin: number) => standing.startMs + bin * BIN_MS;
    const likely = likelySplits(side, least, correlatedAbout(side, at - from));
    changes.push({
      atMs: binMs(at),
      fromBar: raw(from, at),
      toBar: raw(at, to),
      sizeIntervalBar: changeInterval(dayMedians(values, from, at), dayMedians(values, at, to)) ?? [
        size - 2 * sd,
        size + 2 * sd,
      ],
      // Within the ten minutes before a split and after it nothing tells when.
      timeIntervalMs: [binMs(from + likely.first - 1), binMs(from + likely.last + 1)],
    });
    split(values, from, at);
    split(values, at, to);
  }
}

function tenMinuteMeans(standing: StandingPressure): Float64Array {
  const { bar, stepMs } = standing;
  const count = Math.ceil((bar.length * stepMs) / BIN_MS);
  const sums = new Float64Array(count);
  const counts = new Uint32Array(count);
  for (let j = 0; j < bar.length; j++) {
    if (Number.isNaN(bar[j]!)) continue;
    const bin = Math.floor((j * stepMs) / BIN_MS);
    sums[bin]! += bar[j]!;
    counts[bin]!++;
  }
  return sums.map((sum, k) => (counts[k]! > 0 ? sum / counts[k]! : Number.NaN));
}

/** Each bin less the usual difference of its time of day from its own day. */
function withoutDailyShape(bins: Float64Array): Float64Array {
  const dayLevel: number[] = [];
  for (let day = 0; day * BINS_A_DAY < bins.length; day++) {
    dayLevel.push(median(bins.subarray(day * BINS_A_DAY, (day + 1) * BINS_A_DAY)));
  }
  const shape = new Float64Array(BINS_A_DAY);
  for (let k = 0; k < BINS_A_DAY; k++) {
    const differences: number[] = [];
    for (let i = k; i < bins.length; i += BINS_A_DAY)
      differences.push(bins[i]! - dayLevel[Math.floor(i / BINS_A_DAY)]!);
    const usual = median(differences);
    shape[k] = Number.isFinite(usual) ? usual : 0;
  }
  return bins.map((value, i) => value - shape[i % BINS_A_DAY]!);
}

/** Deviations are clipped, so that sags don't choose the split. */
function clipped(values: Float64Array): Float64Array {
  const known = values.filter(Number.isFinite);
  const low = quantile(known, 0.02);
  const high = quantile(known, 0.98);
  return values.map((value) => Math.min(high, Math.max(low, value)));
}

/** Neighbouring values that count for one about the two levels of a split. */
function correlatedAbout(values: Float64Array, at: number): number {
  const [low, high] = [median(values.subarray(0, at)), median(values.subarray(at))];
  return correlatedValues(values.map((value, i) => value - (i < at ? low : high)).filter(Number.isFinite), MOST_LAGS);
}

/** Medians of the days [from, to) that are known for a third at least. */
function dayMedians(level: Float64Array, from: number, to: number): number[] {
  const days: number[] = [];
  for (let at = from; at < to; at += BINS_A_DAY) {
    const day = level.subarray(at, Math.min(to, at + BINS_A_DAY)).filter(Number.isFinite);
    if (day.length >= BINS_A_DAY / 3) days.push(median(day));
  }
  return days;
}
