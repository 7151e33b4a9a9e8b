import type { EpochMs } from '../model/units.ts';

/** When a message came, and how much later than its newest time. */
export interface LagPoint {
  readonly arrivedMs: EpochMs;
  readonly lagMs: number;
}

export interface ClockEstimate {
  /** Device's clock less true time at the last message: positive is ahead. */
  readonly offsetMs: number;
  /** Expanded uncertainty (k = 2) of the offset. */
  readonly uncertaintyMs: number;
  /** Seconds gained a million; undefined where the messages span too little time. */
  readonly driftPpm: number | undefined;
}

/**
 * Between measuring and arrival lies at most so much where a message is sent at once: sampling, radio, broker, whole
 * seconds (common practice, no source). The offset is uncertain by it, as a rectangular distribution (JCGM 100, 4.3.7).
 */
const USUAL_DELAY_MS = 2000;
/** So many messages, over so long, must lie on the lower edge: a buffer that is being emptied passes any level once. */
const SUPPORTING_POINTS = 3;
const SUPPORTING_SPAN_MS = 10 * 60_000;
/** Below this span a drift is lost in the delays: 2 s in a day are 23 ppm. */
const DRIFT_SPAN_MS = 86_400_000;
const DRIFT_POINTS = 8;
/** The offset of now is judged from so long, where no drift is known. */
const LEVEL_SPAN_MS = 6 * 3_600_000;
/** Points below the edge that are taken for a few wrong stamps and left out. */
const STRAY_POINTS = 10;

interface Line {
  /** Lag at the last point, and its change in ms a ms. */
  readonly lagMs: number;
  readonly slope: number;
}

/**
 * The clock's offset and drift from lags, ascending by arrival and of one stretch without a jump. Undefined where the
 * lower edge isn't steady: too few messages, or all of them late by changing times (a buffer that is being emptied, a
 * file). A logger that sends everything late by one and the same time can't be told from one whose clock is behind.
 * Method: the line under all points that lies closest to them (Moon, Skelly and Towsley, INFOCOM 1999), by the lower
 * convex hull; over less than a day a level in its place.
 */
export function estimateClock(points: readonly LagPoint[]): ClockEstimate | undefined {
  const last = points.at(-1);
  if (last === undefined) return undefined;
  const { arrivedMs: endMs } = last;
  if (endMs - points[0]!.arrivedMs >= DRIFT_SPAN_MS && points.length >= DRIFT_POINTS) {
    const line = supported(points, endMs, lowerLine);
    if (line && holdsUntilNow(points, endMs, line)) return estimateOf(points, endMs, line, true);
  }
  const recent = points.filter((point) => endMs - point.arrivedMs <= LEVEL_SPAN_MS);
  const level = supported(recent, endMs, lowerLevel);
  return level && estimateOf(recent, endMs, level, false);
}

/** The edge by `edgeOf`, without a few points below it that no others support; undefined where none is supported. */
function supported(
  points: readonly LagPoint[],
  endMs: EpochMs,
  edgeOf: (points: readonly LagPoint[], endMs: EpochMs) => Line,
): Line | undefined {
  let left = points;
  for (let stray = 0; stray <= STRAY_POINTS && left.length >= SUPPORTING_POINTS; stray++) {
    const line = edgeOf(left, endMs);
    const on = supporting(left, endMs, line);
    const spanMs = on.at(-1)!.arrivedMs - on[0]!.arrivedMs;
    if (on.length >= SUPPORTING_POINTS && spanMs >= SUPPORTING_SPAN_MS) return line;
    const lowest = left.reduce((low, point) => (point.lagMs < low.lagMs ? point : low));
    left = left.filter((point) => point !== lowest);
  }
  return undefined;
}

function supporting(points: readonly LagPoint[], endMs: EpochMs, line: Line): LagPoint[] {
  return points.filter((point) => Math.abs(above(point, endMs, line)) <= USUAL_DELAY_MS);
}

/** Whether the line was seen over long enough, and lately: a clock may have become another one's without a step. */
function holdsUntilNow(points: readonly LagPoint[], endMs: EpochMs, line: Line): boolean {
  const on = supporting(points, endMs, line);
  const lastMs = on.at(-1)!.arrivedMs;
  return lastMs - on[0]!.arrivedMs >= DRIFT_SPAN_MS && endMs - lastMs <= LEVEL_SPAN_MS;
}

function above(point: LagPoint, endMs: EpochMs, line: Line): number {
  return point.lagMs - (line.lagMs + line.slope * (point.arrivedMs - endMs));
}

function lowerLevel(points: readonly LagPoint[]): Line {
  return { lagMs: Math.min(...points.map((point) => point.lagMs)), slope: 0 };
}

/** Of all lines under the points the one with the least sum of distances: the hull's edge over the mean arrival. */
function lowerLine(points: readonly LagPoint[], endMs: EpochMs): Line {
  const hull: LagPoint[] = [];
  for (const point of points) {
    while (hull.length >= 2 && turnsUp(hull.at(-2)!, hull.at(-1)!, point) <= 0) hull.pop();
    hull.push(point);
  }
  const mean = points.reduce((sum, point) => sum + (point.arrivedMs - endMs), 0) / points.length;
  const right = Math.max(
    1,
    hull.findIndex((point) => point.arrivedMs - endMs >= mean),
  );
  const [a, b] = [hull[right - 1]!, hull[right] ?? hull[right - 1]!];
  const runMs = b.arrivedMs - a.arrivedMs;
  const slope = runMs === 0 ? 0 : (b.lagMs - a.lagMs) / runMs;
  return { lagMs: a.lagMs + slope * (endMs - a.arrivedMs), slope };
}

/** Positive where the way from a over b to c turns to the left. */
function turnsUp(a: LagPoint, b: LagPoint, c: LagPoint): number {
  return (b.arrivedMs - a.arrivedMs) * (c.lagMs - a.lagMs) - (b.lagMs - a.lagMs) * (c.arrivedMs - a.arrivedMs);
}

function estimateOf(points: readonly LagPoint[], endMs: EpochMs, line: Line, drifts: boolean): ClockEstimate {
  const residuals = supporting(points, endMs, line).map((point) => above(point, endMs, line));
  const mean = residuals.reduce((sum, residual) => sum + residual, 0) / residuals.length;
  const variance = residuals.reduce((sum, residual) => sum + (residual - mean) ** 2, 0) / residuals.length;
  return {
    offsetMs: -line.lagMs + USUAL_DELAY_MS / 2,
    uncertaintyMs: 2 * Math.sqrt((USUAL_DELAY_MS / 2) ** 2 / 3 + variance),
    driftPpm: drifts ? -line.slope * 1e6 : undefined,
  };
}
