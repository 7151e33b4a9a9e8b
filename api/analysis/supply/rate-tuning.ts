/**
 * What depends on the logging rate. A tap's edge takes one or two rows, a street's at least 30 s and six rows: the
 * windows are as short as the first and the slope is judged over the second.
 */
export interface RateTuning {
  /** Rows averaged on each side of a possible edge: a sharp look and a sure one. */
  readonly shortRows: number;
  readonly longRows: number;
  /** Rows left out at the edge itself, where a reading may be caught half way. */
  readonly transitionRows: number;
  /** Whether a single row may be a tap's, opened and shut: a look at single rows comes before the others. */
  readonly rowDips: boolean;
  /** Rows beyond the window, in two halves, that tell the street's own slope. */
  readonly slopeRows: number;
  /** Rows from which an edge's levels are taken, where no other edge is nearer. */
  readonly levelRows: number;
  /** Rows that may be averaged instead where the street or the noise asks for fewer or more; `levelRows` among them. */
  readonly levelScales: readonly number[];
  /** A third look for a noisy log; nought for none. */
  readonly noisyRows: number;
  /** Edges closer than this are one: shorter than any draw that is reported. */
  readonly edgesApartRows: number;
  /** Rows of each of the three blocks that must agree on the street's slope beside an edge. */
  readonly slopeBlockRows: number;
  /** Rows next to an edge that must show its step; nought where a row may be caught half way. */
  readonly sharpRows: number;
  /** Rows that a hand's turn at an edge may take until the level after it is reached. */
  readonly turnRows: number;
  /** Least length of a draw that is reported: 5 s or three samples, whichever is longer. */
  readonly shortestDrawS: number;
  /** Pauses below this join: 3 s or two samples, whichever is longer. */
  readonly joinPauseS: number;
  /** Misfit of a street's fastest edge laid over a tap's, in squared noise deviations: rows of it over 24. */
  readonly rampMisfit: number;
}

export function rateTuning(intervalS: number): RateTuning {
  const shared = { shortestDrawS: Math.max(5, 3 * intervalS), joinPauseS: Math.max(3, 2 * intervalS) };
  if (intervalS <= 2.5) {
    return {
      ...shared,
      shortRows: 3,
      longRows: 8,
      transitionRows: 1,
      rowDips: false,
      slopeRows: 12,
      levelRows: 8,
      levelScales: [3, 4, 8, 20],
      noisyRows: 20,
      edgesApartRows: 3,
      slopeBlockRows: 4,
      sharpRows: 2,
      turnRows: 8,
      rampMisfit: 1.25,
    };
  }
  if (intervalS <= 15) {
    return {
      ...shared,
      shortRows: 2,
      longRows: 4,
      transitionRows: 0,
      rowDips: true,
      slopeRows: 6,
      levelRows: 3,
      levelScales: [2, 3, 4, 6],
      noisyRows: 0,
      edgesApartRows: 1,
      slopeBlockRows: 2,
      sharpRows: 1,
      turnRows: 1,
      rampMisfit: 0.75,
    };
  }
  return {
    ...shared,
    shortRows: 1,
    longRows: 2,
    transitionRows: 0,
    rowDips: false,
    slopeRows: 6,
    levelRows: 2,
    levelScales: [1, 2],
    noisyRows: 0,
    edgesApartRows: 1,
    slopeBlockRows: 1,
    sharpRows: 0,
    turnRows: 0,
    rampMisfit: 0.5,
  };
}
