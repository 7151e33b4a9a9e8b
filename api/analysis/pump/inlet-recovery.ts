/** Share of a pull within which the inlet counts as back at its standing pressure. */
const LEFT_SHARE = 0.15;
const LEFT_IN_NOISE = 3;
/** The street may move so much while a run lasts: its busiest hours are seldom steeper. Common practice, no source. */
const STREET_BAR_PER_S = 2e-4;

/**
 * The pressure from which on an inlet has recovered from a pull. A pump that gives less as its vessel fills lets the inlet
 * rise by half and more while it still runs; only after a long run may the street itself have gone elsewhere.
 * @param idleBar what the inlet stood at before the run
 * @param lowestBar the deepest of the pull so far
 * @param noiseBar standard deviation of a reading
 */
export function recoveredBar(idleBar: number, lowestBar: number, sinceMs: number, noiseBar: number): number {
  const pullBar = Math.max(0, idleBar - lowestBar);
  const left = Math.max(LEFT_SHARE * pullBar, LEFT_IN_NOISE * noiseBar) + (STREET_BAR_PER_S * sinceMs) / 1000;
  return idleBar - Math.min(0.5 * pullBar, left);
}
