/**
 * A neighbour on the same service pipe. The part of it that both draw through takes S(Q) = σ·k·Qⁿ of the household's own
 * loss k·Qⁿ; with both drawing it takes more than the two losses one by one. So with an own flow q and a neighbour's m the
 * reading lies S(q + m) − S(q) under what it would be without the neighbour, standing pressure only S(m).
 */
export interface SharedPipe {
  readonly k: number;
  readonly n: number;
  /** σ: which share of the household's own loss lies in the shared part. */
  readonly share: number;
}

/** What the neighbour makes of the reading while the household draws, beyond what he makes of standing pressure. */
export function excessBar({ k, n, share }: SharedPipe, ownLpm: number, fallBar: number): number {
  if (fallBar <= 0) return 0;
  const shared = share * k;
  const other = (fallBar / shared + ownLpm ** n) ** (1 / n) - ownLpm;
  return Math.max(0, fallBar - shared * other ** n);
}

/** The neighbour's fall of the reading that makes an excess: `excessBar` the other way round, by bisection to 0.1 mbar. */
export function fallOfExcess(pipe: SharedPipe, ownLpm: number, excess: number): number {
  if (excess <= 0) return 0;
  let low = excess;
  let high = excess;
  for (let round = 0; round < 12 && excessBar(pipe, ownLpm, high) < excess; round++) high *= 2;
  while (high - low > 1e-4) {
    const middle = (low + high) / 2;
    if (excessBar(pipe, ownLpm, middle) < excess) low = middle;
    else high = middle;
  }
  return high;
}

/** A draw that a neighbour's draw ran into, as its own edges show: they tell how much of the pipe is shared. */
export interface DrawWithNeighbour {
  readonly ownLpm: number;
  /** What the neighbour takes from the reading while both draw, and what of it is more than standing pressure loses. */
  readonly fallBar: number;
  readonly excessBar: number;
  readonly sdBar: number;
}

const SHARES = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1];
/** Where nothing tells: two thirds of a pipe, as a branch near the house would have it. */
export const USUAL_SHARED_SHARE = 0.65;
const MISFIT_CAP = 9;

/** The shared part with which the excess at the ends of such draws fits best; the usual one where none tells. */
export function fitSharedShare(k: number, n: number, draws: readonly DrawWithNeighbour[]): number {
  const misfit = (share: number): number =>
    draws.reduce((sum, { ownLpm, fallBar, excessBar: seen, sdBar }) => {
      const off = (excessBar({ k, n, share }, ownLpm, fallBar) - seen) / sdBar;
      return sum + Math.min(MISFIT_CAP, off * off);
    }, 0);
  let best = USUAL_SHARED_SHARE;
  let least = misfit(best);
  for (const share of SHARES) {
    const cost = misfit(share);
    if (cost < least) {
      least = cost;
      best = share;
    }
  }
  return best;
}
