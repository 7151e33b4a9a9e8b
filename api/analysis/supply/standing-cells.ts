import { USUAL_UNSEEN_SHARE } from './balances.ts';

/** How the standing pressure of a cell is known. */
export const CELL = {
  /** No usable sample: a gap or a fault. */
  absent: 0,
  /** Nobody drew: read directly. */
  seen: 1,
  /** Carried through a draw by its books, or computed from a flow meter. */
  carried: 2,
  /** Drawn from, with nothing that tells the fall. */
  hidden: 3,
  /** A short hidden or absent stretch, bridged by what the street does. */
  bridged: 4,
} as const;

/** Standing pressure in short cells of equal length; cell k is centred on `startMs + k · stepMs`. */
export interface StandingCells {
  readonly startMs: number;
  readonly stepMs: number;
  readonly count: number;
  /** NaN where not known. */
  readonly bar: Float64Array;
  readonly sdBar: Float32Array;
  /** What of it other accounts of the draws leave open: shared by neighbouring cells. */
  readonly doubtSdBar: Float32Array;
  /** One of `CELL`. */
  readonly state: Uint8Array;
}

/** Cells of 10 s see a street's edges; slower logs take the shortest cell that holds their samples. */
export function cellStepMs(intervalS: number): number {
  return intervalS <= 10 ? 10_000 : intervalS <= 30 ? 30_000 : 60_000 * Math.max(1, Math.round(intervalS / 60));
}

/** A cell whose carried pressure is less sure than this says nothing. */
const MOST_CARRIED_SD_BAR = 0.15;

/** The grid of a log's cells: the whole minute at or before its first usable row. */
export function cellOriginMs(firstMs: number): number {
  return Math.floor(firstMs / 60_000) * 60_000;
}

/** Sums of the rows of each cell in a span of a log; turned into `StandingCells` once all spans are in. */
export class CellSums {
  readonly originMs: number;
  readonly stepMs: number;
  readonly count: number;
  readonly #first: number;
  readonly #seenSum: Float64Array;
  readonly #seen: Uint32Array;
  readonly #carriedSum: Float64Array;
  readonly #carriedVariance: Float32Array;
  readonly #carriedFall2: Float32Array;
  readonly #carried: Uint32Array;
  readonly #hidden: Uint8Array;
  readonly #seenDoubt: Float32Array;
  readonly #carriedDoubt: Float32Array;

  /** Cells of rows from `firstMs` to `lastMs` on the grid that begins at `originMs`. */
  constructor(originMs: number, firstMs: number, lastMs: number, stepMs: number) {
    this.originMs = originMs;
    this.stepMs = stepMs;
    this.#first = Math.round((firstMs - originMs) / stepMs);
    this.count = Math.round((lastMs - originMs) / stepMs) + 1 - this.#first;
    this.#seenSum = new Float64Array(this.count);
    this.#seen = new Uint32Array(this.count);
    this.#carriedSum = new Float64Array(this.count);
    this.#carriedVariance = new Float32Array(this.count);
    this.#carriedFall2 = new Float32Array(this.count);
    this.#carried = new Uint32Array(this.count);
    this.#hidden = new Uint8Array(this.count);
    this.#seenDoubt = new Float32Array(this.count);
    this.#carriedDoubt = new Float32Array(this.count);
  }

  cellOf(atMs: number): number {
    return Math.round((atMs - this.originMs) / this.stepMs) - this.#first;
  }

  /** Adds the sums of those cells of another span that lie in this one. */
  add(part: CellSums): void {
    const offset = part.#first - this.#first;
    const to = Math.min(part.count, this.count - offset);
    for (let k = Math.max(0, -offset); k < to; k++) {
      const cell = k + offset;
      this.#seenSum[cell]! += part.#seenSum[k]!;
      this.#seen[cell]! += part.#seen[k]!;
      this.#carriedSum[cell]! += part.#carriedSum[k]!;
      this.#carriedVariance[cell]! += part.#carriedVariance[k]!;
      this.#carriedFall2[cell]! += part.#carriedFall2[k]!;
      this.#carried[cell]! += part.#carried[k]!;
      this.#hidden[cell]! |= part.#hidden[k]!;
      this.#seenDoubt[cell]! += part.#seenDoubt[k]!;
      this.#carriedDoubt[cell]! += part.#carriedDoubt[k]!;
    }
  }

  /** @param doubt variance that other accounts of the draws leave open */
  addSeen(cell: number, bar: number, doubt = 0): void {
    this.#seenDoubt[cell]! += doubt;
    this.#seenSum[cell]! += bar;
    this.#seen[cell]!++;
  }

  /**
   * @param doubt variance that other accounts of the draws leave open
   * @param fallBar fall of which the house's own share may go unseen
   */
  addCarried(cell: number, bar: number, variance: number, doubt = 0, fallBar = 0): void {
    if (!(variance + (USUAL_UNSEEN_SHARE * fallBar) ** 2 < MOST_CARRIED_SD_BAR ** 2)) {
      this.#hidden[cell] = 1;
      return;
    }
    this.#carriedDoubt[cell]! += doubt;
    this.#carriedSum[cell]! += bar;
    this.#carriedVariance[cell]! += variance;
    this.#carriedFall2[cell]! += fallBar * fallBar;
    this.#carried[cell]!++;
  }

  addHidden(cell: number): void {
    this.#hidden[cell] = 1;
  }

  get firstMs(): number {
    return this.originMs + this.#first * this.stepMs;
  }

  /** Whether any cell of another span, given by its first and last cell's times, is one of this. */
  touches(firstMs: number, lastMs: number): boolean {
    return this.firstMs <= lastMs && this.firstMs + (this.count - 1) * this.stepMs >= firstMs;
  }

  /**
   * Writes what the sums tell into cells from `at` on.
   * @param noiseBar noise of a single reading
   * @param sharedBar what averaging doesn't lessen: the converter's step on a quiet main, the street's flicker
   * @param unseenShare of a fall that balancing books may be off by
   */
  closeInto(
    { bar, sdBar, doubtSdBar, state }: StandingCells,
    at: number,
    noiseBar: number,
    sharedBar: number,
    unseenShare: number,
  ): void {
    const unseen = unseenShare * unseenShare;
    for (let k = 0; k < this.count; k++) {
      const seen = this.#seen[k]!;
      const carried = this.#carried[k]!;
      if (seen > 0) {
        bar[at + k] = this.#seenSum[k]! / seen;
        const doubt = this.#seenDoubt[k]! / seen;
        doubtSdBar[at + k] = Math.sqrt(doubt);
        sdBar[at + k] = Math.sqrt((noiseBar * noiseBar) / seen + sharedBar * sharedBar + doubt);
        state[at + k] = CELL.seen;
      } else if (carried > 0) {
        bar[at + k] = this.#carriedSum[k]! / carried;
        const doubt = this.#carriedDoubt[k]! / carried;
        doubtSdBar[at + k] = Math.sqrt(doubt);
        sdBar[at + k] = Math.sqrt(
          (noiseBar * noiseBar) / carried +
            sharedBar * sharedBar +
            (this.#carriedVariance[k]! + unseen * this.#carriedFall2[k]!) / carried +
            doubt,
        );
        state[at + k] = CELL.carried;
      } else if (this.#hidden[k] === 1) state[at + k] = CELL.hidden;
    }
  }
}

/** Cells of a log average the readings' noise, but not the street's flicker, nor on a quiet main the converter's step. */
const FLICKER_BAR = 0.002;

/** What averaging a cell's readings doesn't lessen, in bar. */
export function sharedCellBar({
  noiseBar,
  quantumBar,
}: {
  readonly noiseBar: number;
  readonly quantumBar: number;
}): number {
  return noiseBar < 0.5 * quantumBar ? quantumBar / Math.sqrt(12) : FLICKER_BAR;
}

/** Cells summed at a time: a year of them at once would take as much memory as its readings' third. */
const CELLS_AT_A_TIME = 65_536;

/**
 * The cells of a whole log from the sums of its parts, which share a cell where they meet.
 * @param parts in order, on one grid
 * @param endMs end of the log's last usable row
 * @param noiseBar noise of a single reading
 * @param sharedBar what averaging doesn't lessen
 * @param unseenShare of a fall that balancing books may be off by
 */
export function closeCells(
  parts: readonly CellSums[],
  endMs: number,
  noiseBar: number,
  sharedBar: number,
  unseenShare: number,
): StandingCells {
  const { originMs, stepMs } = parts[0]!;
  const count = Math.round((endMs - originMs) / stepMs) + 1;
  const cells: StandingCells = {
    startMs: originMs,
    stepMs,
    count,
    bar: new Float64Array(count).fill(Number.NaN),
    sdBar: new Float32Array(count).fill(Number.NaN),
    doubtSdBar: new Float32Array(count),
    state: new Uint8Array(count),
  };
  for (let from = 0; from < count; from += CELLS_AT_A_TIME) {
    const firstMs = originMs + from * stepMs;
    const lastMs = originMs + (Math.min(count, from + CELLS_AT_A_TIME) - 1) * stepMs;
    const some = new CellSums(originMs, firstMs, lastMs, stepMs);
    for (const part of parts) if (part.touches(firstMs, lastMs)) some.add(part);
    some.closeInto(cells, from, noiseBar, sharedBar, unseenShare);
  }
  return cells;
}
