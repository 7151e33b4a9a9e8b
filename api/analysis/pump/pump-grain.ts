/** How fine a log shows the pressure: what the recognition of runs must know before the first row. */
export interface PumpGrain {
  readonly intervalMs: number;
  /** Standard deviation of a reading about the true pressure, converter steps included. */
  readonly noiseBar: number;
  /** The same of a calmed reading. */
  readonly calmNoiseBar: number;
  readonly quantumBar: number;
  /** Readings that the running median takes together; 1 where none is needed. */
  readonly filterWidth: 1 | 3 | 5;
  /** Rows further apart than this hide too much of a pump's doing to be read as one stretch. */
  readonly longestStepMs: number;
}

const GAP_INTERVALS = 3.5;
const GAP_SHORTEST_MS = 10_000;
/** Spread of the median of 3 and of 5 normal readings, over that of one (order statistics of the normal law). */
const MEDIAN_OF_3_SPREAD = 0.67;
const MEDIAN_OF_5_SPREAD = 0.536;
/** Below this noise no filter is needed, and a filter would cost the quickest cycles. */
const QUIET_BAR = 0.012;
const LOUD_BAR = 0.03;
/** A median spanning more than this would swallow whole runs of a pump. */
const FILTER_LONGEST_MS = 6_000;

export function pumpGrain(intervalMs: number, sensorNoiseBar: number, quantumBar: number): PumpGrain {
  const noiseBar = Math.sqrt(sensorNoiseBar * sensorNoiseBar + (quantumBar * quantumBar) / 12);
  const filterWidth =
    noiseBar > LOUD_BAR && 5 * intervalMs <= FILTER_LONGEST_MS
      ? 5
      : noiseBar > QUIET_BAR && 3 * intervalMs <= FILTER_LONGEST_MS
        ? 3
        : 1;
  return {
    intervalMs,
    noiseBar,
    calmNoiseBar: noiseBar * (filterWidth === 5 ? MEDIAN_OF_5_SPREAD : filterWidth === 3 ? MEDIAN_OF_3_SPREAD : 1),
    quantumBar,
    filterWidth,
    longestStepMs: Math.max(GAP_INTERVALS * intervalMs, GAP_SHORTEST_MS),
  };
}
