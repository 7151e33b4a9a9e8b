import { isSteady, type RowBlock, type RowRange } from './flow-draws.ts';
import { type DrawWithNeighbour, excessBar, fallOfExcess } from './shared-pipe.ts';
import { type DrawSide, drawSides, meanAt, meanOf, SIDE_ROWS, type SupplyCurve } from './supply-curve.ts';

/** What a neighbour's excess may be off by, as a share of his fall of the reading: the shared part of the pipe isn't sure. */
const EXCESS_SD_SHARE = 0.1;
/** A neighbour's draws beside which a level without them is looked for; a longer one is taken for the street's. */
const LONGEST_NEIGHBOUR_S = 900;
/** Share of a neighbour's fall by which the street may have moved meanwhile. */
const FALL_SD_SHARE = 0.05;
/** A neighbour's tap takes a row or two; at slower rates a street's fall may as well. */
const SLOWEST_JUMP_INTERVAL_S = 2.5;
/** Least jump that counts as a neighbour's: as the least fall of a draw. */
const JUMP_NOISES = 6;
const LEAST_JUMP_BAR = 0.03;
/** Deviations by which an edge differs from the curve before something else than the curve's misfit is at work. */
const OTHERS_AT = 3;
const LEAST_EXCESS_BAR = 0.015;

/** Standing pressure at a steady row of a draw: what comes on top of reading and computed loss, with its variance. */
export interface CarriedRow {
  readonly row: number;
  readonly standingBar: number;
  readonly varianceBar2: number;
}

/** What the ends of a draw show beyond the curve. */
interface EndExcess {
  readonly bar: number;
  readonly varianceBar2: number;
  readonly lossBar: number;
  readonly flowLpm: number;
  /** More than the curve's misfit: somebody else's flow. */
  readonly others: boolean;
}

interface Jump {
  /** Index into the steady rows of the first one after it. */
  readonly at: number;
  readonly bar: number;
}

/** What a draw's rows tell: those with steady flow, reading and loss there, both ends, and jumps that aren't its own. */
export interface DrawEvidence {
  readonly rows: readonly number[];
  readonly losses: Float64Array;
  readonly raised: Float64Array;
  readonly open: EndExcess | undefined;
  readonly close: EndExcess | undefined;
  readonly jumps: readonly Jump[];
}

/**
 * @param idle rows about the draw in which the household doesn't draw
 * @param readingSdBar noise of a single reading, the converter's step included
 */
export function drawEvidence(
  pressureBar: Float64Array,
  flowLpm: Float64Array,
  draw: RowRange,
  idle: RowBlock,
  curve: SupplyCurve,
  readingSdBar: number,
  intervalS: number,
): DrawEvidence {
  const rows: number[] = [];
  for (let i = draw.fromRow; i < draw.toRow; i++) if (isSteady(flowLpm, i, draw.fromRow, draw.toRow)) rows.push(i);
  const lossAt = (row: number) => curve.k * flowLpm[row]! ** curve.n;
  const losses = Float64Array.from(rows, lossAt);
  const raised = Float64Array.from(rows, (row) => pressureBar[row]! + lossAt(row));
  const { opening, closing } = drawSides(flowLpm, draw, idle);
  const excess = (side: DrawSide): EndExcess | undefined => {
    if (side.steady.length === 0 || side.idleTo <= side.idleFrom) return undefined;
    const lossBar = side.steady.reduce((sum, row) => sum + lossAt(row), 0) / side.steady.length;
    const bar = meanOf(pressureBar, side.idleFrom, side.idleTo) - meanAt(pressureBar, side.steady) - lossBar;
    const edge2 = readingSdBar ** 2 * (1 / side.steady.length + 1 / (side.idleTo - side.idleFrom));
    const curve2 = (curve.misfitShare * lossBar) ** 2;
    // What is far beyond the curve's misfit is somebody else's flow: the edge alone tells it.
    const others = bar > 0 && bar > Math.max(LEAST_EXCESS_BAR, OTHERS_AT * Math.sqrt(edge2 + curve2));
    const share = others ? 1 : curve2 / (curve2 + edge2);
    const flow = meanAt(flowLpm, side.steady);
    return { bar: share * bar, varianceBar2: others ? edge2 : share * edge2, lossBar, flowLpm: flow, others };
  };
  const jumps =
    intervalS <= SLOWEST_JUMP_INTERVAL_S ? jumpsOf(raised, losses, rows, readingSdBar, curve.misfitShare) : [];
  return { rows, losses, raised, open: excess(opening), close: excess(closing), jumps };
}

/**
 * Carries standing pressure through a draw with metered flow: reading plus k·Qⁿ, corrected by what the draw's own opening
 * and closing show beyond the curve, and by what a neighbour's flow at the same time takes of the shared pipe. Rows whose
 * flow isn't steady tell nothing.
 */
export function carryByFlow(
  pressureBar: Float64Array,
  flowLpm: Float64Array,
  evidence: DrawEvidence,
  curve: SupplyCurve,
  intervalS: number,
): CarriedRow[] {
  const { rows, losses, raised, open, close } = evidence;
  const falls = neighbourFalls(evidence, curve, intervalS);
  const misfit = (end: EndExcess | undefined) => (end && !end.others ? end : undefined);
  const [atStart, atEnd] = [misfit(open), misfit(close)];
  const whole = (rows.at(-1) ?? 0) - (rows[0] ?? 0) || 1;
  const scaled = (end: EndExcess | undefined, loss: number) =>
    end && end.lossBar > 0 ? (end.bar * Math.min(2 * end.lossBar, loss)) / end.lossBar : undefined;
  return rows.map((row, i) => {
    const loss = losses[i]!;
    const since = (row - rows[0]!) / whole;
    const [first, last] = [scaled(atStart, loss), scaled(atEnd, loss)];
    const one = first ?? last ?? 0;
    // The misfit of the curve goes with the loss; between the two ends it went evenly from the one to the other.
    const off = first !== undefined && last !== undefined ? first + since * (last - first) : one;
    const misfit2 = (curve.misfitShare * loss) ** 2;
    const ends2 =
      first !== undefined && last !== undefined
        ? (1 - since) ** 2 * atStart!.varianceBar2 + since ** 2 * atEnd!.varianceBar2
        : ((atStart ?? atEnd)?.varianceBar2 ?? misfit2);
    const between2 =
      first !== undefined && last !== undefined
        ? since * (1 - since) * ((last - first) ** 2 + misfit2)
        : misfit2 * (first === undefined ? 1 - since : since);
    const fall = falls[i]!;
    const excess = fall > 0 ? excessBar({ ...curve, share: curve.sharedShare }, flowLpm[row]!, fall) : 0;
    return {
      row,
      // Drawing can only lower the reading.
      standingBar: Math.max(pressureBar[row]!, raised[i]! + off + excess),
      varianceBar2: ends2 + between2 + (EXCESS_SD_SHARE * fall) ** 2,
    };
  });
}

/**
 * The neighbour's fall of the reading at each steady row: how far it lies in a valley that is narrower than his longest draw and
 * that he opened or shut, against the level with nobody drawing on both sides of it. A street's slope makes no valley.
 */
function neighbourFalls(
  { rows, raised, open, close, jumps }: DrawEvidence,
  curve: SupplyCurve,
  intervalS: number,
): Float64Array {
  const falls = new Float64Array(rows.length);
  if (rows.length === 0 || (jumps.length === 0 && !open?.others && !close?.others)) return falls;
  const pipe = { ...curve, share: curve.sharedShare };
  const smooth = Float64Array.from(raised, (_, i) =>
    meanOf(raised, Math.max(0, i - (SIDE_ROWS >> 1)), Math.min(raised.length, i + (SIDE_ROWS >> 1) + 1)),
  );
  // Either he went on beyond the end, or his tap was turned together with the household's own: what both ends agree on.
  const levels = (end: EndExcess | undefined, at: number) =>
    end?.others ? [at + fallOfExcess(pipe, end.flowLpm, end.bar), at + end.bar] : [at];
  let [before, after] = [Number.POSITIVE_INFINITY, 0];
  for (const a of levels(open, smooth[0]!)) {
    for (const b of levels(close, smooth.at(-1)!))
      if (Math.abs(a - b) < Math.abs(before - after)) [before, after] = [a, b];
  }
  const reach = Math.round(LONGEST_NEIGHBOUR_S / intervalS);
  const left = runningHighest(smooth, before, reach);
  const right = runningHighest(smooth.toReversed(), after, reach).reverse();
  let jump = 0;
  for (let from = 0; from < rows.length; ) {
    const depth = (i: number) => Math.min(left[i]!, right[i]!) - smooth[i]!;
    if (depth(from) < LEAST_JUMP_BAR) {
      from++;
      continue;
    }
    let to = from;
    while (to < rows.length && depth(to) >= LEAST_JUMP_BAR) to++;
    while (jump < jumps.length && jumps[jump]!.at < from - SIDE_ROWS) jump++;
    const his =
      (from === 0 && open?.others === true) ||
      (to === rows.length && close?.others === true) ||
      (jump < jumps.length && jumps[jump]!.at <= to + SIDE_ROWS);
    for (let i = from; his && i < to; i++) falls[i] = Math.max(0, Math.min(left[i]!, right[i]!) - raised[i]!);
    from = to;
  }
  return falls;
}

/** The highest of a level known before the first value and of the last `reach` values up to each; linear in the values. */
function runningHighest(values: Float64Array, before: number, reach: number): Float64Array {
  const queue: number[] = [];
  let head = 0;
  return values.map((value, i) => {
    while (queue.length > head && values[queue.at(-1)!]! <= value) queue.pop();
    queue.push(i);
    if (queue[head]! < i - reach) head++;
    const highest = values[queue[head]!]!;
    return i < reach ? Math.max(before, highest) : highest;
  });
}

/** What a draw that a neighbour's draw runs into at one end tells of the pipe's shared part; undefined where it tells nothing. */
export function drawWithNeighbour(
  { rows, raised, open, close }: DrawEvidence,
  intervalS: number,
): DrawWithNeighbour | undefined {
  if (!open || !close || open.others === close.others || rows.length * intervalS > LONGEST_NEIGHBOUR_S)
    return undefined;
  const [alone, shared] = open.others ? [close, open] : [open, close];
  const ends = [
    meanOf(raised, 0, Math.min(SIDE_ROWS, raised.length)),
    meanOf(raised, Math.max(0, raised.length - SIDE_ROWS), raised.length),
  ];
  const fallBar = open.others ? ends[1]! - ends[0]! : ends[0]! - ends[1]!;
  // As much as his whole fall: his tap was turned together with the household's own, and the end tells nothing.
  if (shared.bar > 0.9 * fallBar) return undefined;
  return {
    ownLpm: shared.flowLpm,
    fallBar,
    excessBar: shared.bar,
    sdBar: Math.hypot(Math.sqrt(alone.varianceBar2 + shared.varianceBar2), FALL_SD_SHARE * fallBar),
  };
}

/** Jumps of the raised reading within a row or two: beyond the noise, and beyond what the street does beside them. */
function jumpsOf(
  raised: Float64Array,
  losses: Float64Array,
  rows: readonly number[],
  noiseBar: number,
  misfitShare: number,
): Jump[] {
  const least = Math.max(LEAST_JUMP_BAR, JUMP_NOISES * noiseBar * Math.sqrt(2 / SIDE_ROWS));
  const jumps: Jump[] = [];
  const level = (from: number, to: number) => meanOf(raised, Math.max(0, from), Math.min(raised.length, to));
  for (let i = 2; i < raised.length - 1; i++) {
    const bar = level(i + 1, i + 1 + SIDE_ROWS) - level(i - 1 - SIDE_ROWS, i - 1);
    if (!(Math.abs(bar) >= least) || rows[i]! - rows[i - 1]! > SIDE_ROWS) continue;
    const slope = Math.max(
      Math.abs(level(i + 1 + SIDE_ROWS, i + 1 + 2 * SIDE_ROWS) - level(i + 1, i + 1 + SIDE_ROWS)) || 0,
      Math.abs(level(i - 1 - SIDE_ROWS, i - 1) - level(i - 1 - 2 * SIDE_ROWS, i - 1 - SIDE_ROWS)) || 0,
    );
    const ownTurn = OTHERS_AT * misfitShare * Math.abs(losses[i]! - losses[i - 2]!);
    if (Math.abs(bar) < Math.max(2 * slope, ownTurn)) continue;
    const last = jumps.at(-1);
    if (last && i - last.at <= SIDE_ROWS) {
      if (Math.abs(bar) > Math.abs(last.bar)) jumps[jumps.length - 1] = { at: i, bar };
    } else jumps.push({ at: i, bar });
  }
  return jumps;
}
