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
  /** A short hidden or absent stretch, bridged in a straight line. */
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
  readonly #carried: Uint32Array;
  readonly #hidden: Uint8Array;

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
    this.#carried = new Uint32Array(this.count);
    this.#hidden = new Uint8Array(this.count);
  }

  cellOf(atMs: number): number {
    return Math.round((atMs - this.originMs) / this.stepMs) - this.#first;
  }

  /** Adds the sums of a span within this one. */
  add(part: CellSums): void {
    const offset = part.#first - this.#first;
    for (let k = 0; k < part.count; k++) {
      const cell = k + offset;
      this.#seenSum[cell]! += part.#seenSum[k]!;
      this.#seen[cell]! += part.#seen[k]!;
      this.#carriedSum[cell]! += part.#carriedSum[k]!;
      this.#carriedVariance[cell]! += part.#carriedVariance[k]!;
      this.#carried[cell]! += part.#carried[k]!;
      this.#hidden[cell]! |= part.#hidden[k]!;
    }
  }

  addSeen(cell: number, bar: number): void {
    this.#seenSum[cell]! += bar;
    this.#seen[cell]!++;
  }

  addCarried(cell: number, bar: number, variance: number): void {
    if (!(variance < MOST_CARRIED_SD_BAR ** 2)) {
      this.#hidden[cell] = 1;
      return;
    }
    this.#carriedSum[cell]! += bar;
    this.#carriedVariance[cell]! += variance;
    this.#carried[cell]!++;
  }

  addHidden(cell: number): void {
    this.#hidden[cell] = 1;
  }

  /**
   * @param noiseBar noise of a single reading
   * @param sharedBar what averaging doesn't lessen: the converter's step on a quiet main, the street's flicker
   */
  close(noiseBar: number, sharedBar: number): StandingCells {
    const { count } = this;
    const bar = new Float64Array(count).fill(Number.NaN);
    const sdBar = new Float32Array(count).fill(Number.NaN);
    const state = new Uint8Array(count);
    for (let k = 0; k < count; k++) {
      const seen = this.#seen[k]!;
      const carried = this.#carried[k]!;
      if (seen > 0) {
        bar[k] = this.#seenSum[k]! / seen;
        sdBar[k] = Math.sqrt((noiseBar * noiseBar) / seen + sharedBar * sharedBar);
        state[k] = CELL.seen;
      } else if (carried > 0) {
        bar[k] = this.#carriedSum[k]! / carried;
        sdBar[k] = Math.sqrt(
          (noiseBar * noiseBar) / carried + sharedBar * sharedBar + this.#carriedVariance[k]! / carried,
        );
        state[k] = CELL.carried;
      } else if (this.#hidden[k] === 1) state[k] = CELL.hidden;
    }
    const startMs = this.originMs + this.#first * this.stepMs;
    return { startMs, stepMs: this.stepMs, count, bar, sdBar, state };
  }
}
