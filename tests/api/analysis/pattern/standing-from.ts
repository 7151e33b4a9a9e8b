import type { StandingPressure } from '../../../../api/analysis/supply/standing-pressure.ts';

const MINUTE_MS = 60_000;

/** Standing pressure from an instant on, a value (bar, NaN for unknown) a step. */
export function standingFrom(
  startMs: number,
  points: number,
  barAt: (point: number) => number,
  stepMs = MINUTE_MS,
): { standing: StandingPressure; endMs: number } {
  return {
    standing: {
      startMs,
      stepMs,
      bar: Float64Array.from({ length: points }, (_, point) => barAt(point)),
      sdBar: new Float32Array(points),
      interpolated: new Uint8Array(points),
    },
    endMs: startMs + points * stepMs,
  };
}
