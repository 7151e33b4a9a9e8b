import { Problem } from '../../collector/model/problem.ts';
import type { Bar } from '../../collector/model/units.ts';

/** What the sensor and a gauge beside it (or the open air) showed at the same time, both in bar gauge. */
export interface GaugePoint {
  /** The sensor's own line, without any calibration. */
  readonly readBar: Bar;
  readonly gaugeBar: Bar;
}

/** Limits of error ±a of a gauge of which nothing is known: class 1.6 on 10 bar (EN 837-1, from memory). */
export const DEFAULT_GAUGE_ACCURACY_BAR = 0.16;
/** A sensor open to the air reads nought gauge by definition; draughts and a wet port leave this much (assumed). */
const OPEN_AIR_ACCURACY_BAR = 0.01;
/** Two pressures closer than this fix no slope: the gauge's own error would be multiplied. */
const LEAST_DISTANCE_BAR = 0.5;
/** Beyond these the comparison shows a fault of wiring, unit or end points, not a sensor's tolerance. */
const GAIN_LIMITS = [0.5, 2] as const;
const OFFSET_LIMIT_BAR = 3;
/**
 * What remains of the sensor's own limits of error (offset, slope, linearity, hysteresis together): after one comparison
 * all but the offset, taken as half; after two the curvature, taken as a quarter (common practice, no source).
 */
const REMAINING_SHARE = { 1: 0.5, 2: 0.25 } as const;

/**
 * The line `true = gain · read + offset` and the standard uncertainty that remains (JCGM 100, 4.3.7: a/√3 of
 * rectangular limits, added in quadrature). One point keeps the slope that holds already.
 * @throws Problem `calibration_unfit` where the points fix no line or an implausible one.
 */
export function compareWithGauge(
  points: readonly GaugePoint[],
  known: {
    readonly gainInForce: number;
    readonly gaugeAccuracyBar: Bar | undefined;
    /** Standard uncertainty of the sensor by itself. */
    readonly sensorStandardUncertaintyBar: Bar;
  },
): { gain: number; offset: Bar; standardUncertainty: Bar } {
  const [first, second] = points;
  if (!first) throw unfit('No comparison is given', 'Give one or two points');
  let gain = known.gainInForce;
  if (second) {
    const distance = second.readBar - first.readBar;
    if (Math.abs(distance) < LEAST_DISTANCE_BAR)
      throw unfit(
        `The two readings (${shown(first.readBar)} and ${shown(second.readBar)}) are less than ${LEAST_DISTANCE_BAR} bar apart`,
        'Compare once with the pipe under pressure and once with the sensor open to the air, or give one point only',
      );
    gain = (second.gaugeBar - first.gaugeBar) / distance;
  }
  const offset = first.gaugeBar - gain * first.readBar;
  if (!(gain >= GAIN_LIMITS[0] && gain <= GAIN_LIMITS[1]) || !(Math.abs(offset) <= OFFSET_LIMIT_BAR))
    throw unfit(
      `The comparison asks for a slope of ${gain.toPrecision(3)} and an offset of ${shown(offset)}`,
      "That is no sensor's tolerance: check the unit, the transducer's end points and which reading belongs to which",
    );
  const gauge = Math.max(...points.map((point) => accuracyOf(point, known.gaugeAccuracyBar))) / Math.sqrt(3);
  const remaining = known.sensorStandardUncertaintyBar * REMAINING_SHARE[second ? 2 : 1];
  return { gain, offset, standardUncertainty: Math.hypot(gauge, remaining) };
}

function accuracyOf(point: GaugePoint, given: Bar | undefined): Bar {
  return point.gaugeBar === 0 ? OPEN_AIR_ACCURACY_BAR : (given ?? DEFAULT_GAUGE_ACCURACY_BAR);
}

function shown(value: Bar): string {
  return `${value.toFixed(3)} bar`;
}

function unfit(message: string, hint: string): Problem {
  return new Problem('calibration_unfit', message, hint);
}
