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

/** Sums of the rows of each cell; turned into `StandingCells` once all blocks are in. */
export class CellSums {
  readonly startMs: number;
  readonly stepMs: number;
  readonly count: number;
  readonly #seenSum: Float64Array;
  readonly #seen: Uint32Array;
  readonly #carriedSum: Float64Array;
  readonly #carriedVariance: Float32Array;
  readonly #carried: Uint32Array;
  readonly #hidden: Uint8Array;

  constructor(firstMs: number, lastMs: number, stepMs: number) {
    this.stepMs = stepMs;
    this.startMs = Math.floor(firstMs / 60_000) * 60_000;
    this.count = Math.round((lastMs - this.startMs) / stepMs) + 1;
    this.#seenSum = new Float64Array(this.count);
    this.#seen = new Uint32Array(this.count);
    this.#carriedSum = new Float64Array(this.count);
    this.#carriedVariance = new Float32Array(this.count);
    this.#carried = new Uint32Array(this.count);
    this.#hidden = new Uint8Array(this.count);
  }

  cellOf(atMs: number): number {
    return Math.round((atMs - this.startMs) / this.stepMs);
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
    return { startMs: this.startMs, stepMs: this.stepMs, count, bar, sdBar, state };
  }
}
