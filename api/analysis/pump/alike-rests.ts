import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { levelAround, outflowIndex, type Rest } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import { type EvenOutflow, type LossStep, type LossSteps, lossSteps } from './steps-at-rest.ts';

/** Neighbours on either side that a rest is compared with. */
const NEIGHBOURS = 10;
const NEIGHBOURS_OF_LENGTH = 5;
const FEWEST_NEIGHBOURS = 5;
/** Neighbours further away may have had another main or another leak. */
const NEAR_MS = 4 * 3_600_000;
/** Scatters beyond which a rest isn't like the others, and the least share that counts. */
const SCATTERS = 4;
/** The same for losses and fills: of so many rests that are compared, and with few neighbours each, some stray far. */
const SCATTERS_OF_RATES = 6;
const LEAST_LOSS_SHARE = 0.02;
const LEAST_FILL_SHARE = 0.1;
/** A rest shorter than its neighbours by this share gave water to somebody. */
const LEAST_SHORTER_SHARE = 0.015;
/** Two ends of a rest fall between rows: a length is known to about this part of an interval. */
const LENGTH_ERROR_INTERVALS = 0.41;
/** The fill is judged between these times after a start: after the spin-up, before a later draw is likely. */
const FILL_FROM_MS = 2_000;
const FILL_TO_MS = 6_000;
/** Fewer rows than this within the fill don't show its rate. */
const FEWEST_FILL_ROWS = 4;
/** What goes within a short while goes at one go in every rest, by noise and by how gas settles: only more is a draw. */
const SCATTERS_OF_STEPS = 5;
const STEP_IN_NOISE = 2.5;
/** A step counts from this part of a rest's length on. */
const LEAST_STEP_SHARE = 0.015;
/** Each further look leaves out of the neighbours what those before it found. */
const LOOKS = 3;

/**
 * Of the rests that look idle, those that aren't like their neighbours: a trickle too small to show as a draw shortens
 * the rest a little or empties the vessel a little faster on the whole or within a short while, and a tap that opens in the last seconds slows
 * the fill that follows. Cycles without demand repeat closely, so each is compared with those around it and their scatter.
 * `stopRows[k]` is the row at which the run after rest k ended, where it is known.
 */
export function unlikeRests(
  rows: PumpRows,
  rests: readonly Rest[],
  idle: readonly boolean[],
  stopRows: readonly (number | undefined)[],
  even: EvenOutflow,
): boolean[] {
  const unlike = rests.map(() => false);
  const allSteps = rests.map((rest, k) => (idle[k] ? lossSteps(rows, rest, even) : undefined));
  for (let look = 0; look < LOOKS; look++) {
    const candidates = rests.flatMap((_, k) => (idle[k] && !unlike[k] ? [k] : []));
    const losses = candidates.map((k) => meanLoss(rows, rests[k]!));
    // Slower is the suspect side for fills, faster for losses: turned round, one comparison serves both.
    const fills = candidates.map((k) => -fillRate(rows, rests[k]!.toRow, stopRows[k]));
    const lengths = candidates.map((k) => lengthMs(rows, rests[k]!));
    const steps = candidates.map((k) => allSteps[k]);
    const times = candidates.map((k) => rows.timeMs[rests[k]!.toRow]!);
    candidates.forEach((k, place) => {
      const near: number[] = [];
      for (
        let other = Math.max(0, place - NEIGHBOURS);
        other <= Math.min(candidates.length - 1, place + NEIGHBOURS);
        other++
      ) {
        if (Math.abs(times[other]! - times[place]!) <= NEAR_MS) near.push(other);
      }
      unlike[k] =
        isShort(rows, lengths, times, place) ||
        holdsStep(
          steps[place],
          near.flatMap((other) => (other === place ? [] : (steps[other] ?? []))),
        ) ||
        standsOut(
          losses[place]!,
          near.map((other) => losses[other]!),
          SCATTERS_OF_RATES,
          (middle) => LEAST_LOSS_SHARE * Math.abs(middle),
        ) ||
        standsOut(
          fills[place]!,
          near.map((other) => fills[other]!),
          SCATTERS_OF_RATES,
          (middle) => LEAST_FILL_SHARE * Math.abs(middle),
        );
    });
  }
  return unlike;
}

/**
 * Whether a rest is shorter than those before and after it let expect. Idle rests last from cut-out to cut-in, so their
 * length tells the mean outflow better than two readings do; it drifts with the main, hence a line between both sides.
 */
function isShort(rows: PumpRows, lengths: readonly number[], times: readonly number[], place: number): boolean {
  const before: number[] = [];
  const after: number[] = [];
  for (let other = place - 1; other >= 0 && before.length < NEIGHBOURS_OF_LENGTH; other--) {
    if (times[place]! - times[other]! <= NEAR_MS) before.push(lengths[other]!);
  }
  for (let other = place + 1; other < lengths.length && after.length < NEIGHBOURS_OF_LENGTH; other++) {
    if (times[other]! - times[place]! <= NEAR_MS) after.push(lengths[other]!);
  }
  if (before.length + after.length < FEWEST_NEIGHBOURS) return false;
  // Draws only shorten a rest: where the two sides differ by a step, the shorter one is the cautious one.
  const sides = [before, after].filter((side) => side.length >= 2).map((side) => median(side));
  const expected = sides.length === 2 ? (sides[0]! + sides[1]!) / 2 : sides[0]!;
  const steps: number[] = [];
  for (const side of [before, after]) {
    for (let k = 1; k < side.length; k++) steps.push(Math.abs(side[k]! - side[k - 1]!));
  }
  const scatter = Math.max(
    (MAD_TO_SIGMA * median(steps)) / Math.SQRT2,
    LENGTH_ERROR_INTERVALS * rows.intervalMs,
    sides.length === 2 ? Math.abs(sides[0]! - sides[1]!) / SCATTERS : 0,
  );
  return expected - lengths[place]! > Math.max(SCATTERS * scatter, LEAST_SHORTER_SHARE * expected);
}

/** Whether more went within a short while than in the rests about it, by what their usual outflow takes in that while. */
function holdsStep(own: LossSteps | undefined, others: readonly LossSteps[]): boolean {
  if (!own || others.length < FEWEST_NEIGHBOURS) return false;
  const usual = median([own, ...others].map(({ lost, lostMs }) => lost / lostMs));
  if (!(usual > 0)) return false;
  const excessMs = ({ loss, overMs }: LossStep): number => loss / usual - overMs;
  return own.steps.some((step, k) => {
    const excess = excessMs(step);
    const least = Math.max(LEAST_STEP_SHARE * own.lengthMs, (STEP_IN_NOISE * step.noise) / usual);
    // Only above half of the others may it stand out, and few do: no need to sort those that don't.
    let known = 0;
    let below = 0;
    for (const { steps } of others) {
      const other = steps[k];
      if (!other) continue;
      known++;
      if (excessMs(other) < excess - least) below++;
    }
    if (2 * below < known) return false;
    const theirs = others.flatMap(({ steps }) => (steps[k] ? [excessMs(steps[k]!)] : []));
    return standsOut(excess, theirs, SCATTERS_OF_STEPS, least);
  });
}

function lengthMs(rows: PumpRows, rest: Rest): number {
  return rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!;
}

/** Whether a value lies above the others' median by more than the scatter of those below it explains, and than is least. */
function standsOut(
  value: number,
  others: readonly number[],
  scatters: number,
  least: number | ((middle: number) => number),
): boolean {
  const known = others.filter((other) => Number.isFinite(other));
  if (!Number.isFinite(value) || known.length < FEWEST_NEIGHBOURS) return false;
  const middle = median(known);
  const leastAbove = typeof least === 'number' ? least : least(middle);
  if (value - middle <= leastAbove) return false;
  const scatter = MAD_TO_SIGMA * median(known.filter((other) => other <= middle).map((other) => middle - other));
  return value - middle > scatters * scatter;
}

/** Mean outflow of a whole rest, in outflow index a millisecond. */
function meanLoss(rows: PumpRows, rest: Rest): number {
  if (rest.toRow - rest.fromRow < 8) return Number.NaN;
  const first = Math.max(rows.calmBar[rest.fromRow]!, rows.calmBar[rest.fromRow + 1]!);
  return (outflowIndex(levelAround(rows, rest.toRow, rest)) - outflowIndex(first)) / lengthMs(rows, rest);
}

/** Inflow while the pump fills the vessel, NaN where it is too quick for the rows to show. */
function fillRate(rows: PumpRows, startRow: number, stopRow: number | undefined): number {
  const startMs = rows.timeMs[startRow]!;
  let from = startRow;
  while (from < rows.timeMs.length && rows.timeMs[from]! - startMs < FILL_FROM_MS) from++;
  const last = Math.min(rows.timeMs.length, stopRow ?? rows.timeMs.length) - 1;
  let to = from;
  while (to + 1 <= last && rows.timeMs[to + 1]! - startMs <= FILL_TO_MS) to++;
  if (to - from < FEWEST_FILL_ROWS || rows.timeMs[to]! - startMs > FILL_TO_MS) return Number.NaN;
  const rise = rows.bar[to]! - rows.bar[from]!;
  const risingMs = rows.timeMs[to]! - rows.timeMs[from]!;
  return rise < 8 * rows.noiseBar
    ? Number.NaN
    : (outflowIndex(rows.bar[from]!) - outflowIndex(rows.bar[to]!)) / risingMs;
}
