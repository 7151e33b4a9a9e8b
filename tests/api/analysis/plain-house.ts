import type { AnalysisColumns, AnalysisSite } from '../../../api/analysis/findings.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';

/** Monday 00:00 in London (summer time). */
export const MONDAY_MS = Date.parse('2026-05-03T23:00:00Z');
const HOUR_S = 3600;

export interface PlainDraw {
  readonly fromS: number;
  readonly toS: number;
  /** Opening of the tap in l/min per √bar; on top of others at the same time. */
  readonly opening: number;
}

export interface PlainHouse {
  readonly hours: number;
  readonly intervalS?: number;
  /** Street's pressure with nobody drawing, at a second from the start. */
  readonly street: (atS: number) => number;
  readonly draws?: readonly PlainDraw[];
  readonly noiseBar?: number;
  readonly stepBar?: number;
  /** Bar lost in the service pipe per (l/min)²: a rough pipe, another law than the analysis assumes. */
  readonly lossFactor?: number;
  /** Outlets' height above the logger, as pressure. */
  readonly heightBar?: number;
  readonly metered?: boolean;
}

/**
 * A house of another physical model than the simulator's: turbulent square-law pipe (Darcy–Weisbach, fully rough), one
 * lumped tap, solved in closed form. With S − k·Q² = p and Q = c·√(p − h): p − h = (S − h)/(1 + k·c²).
 */
export function plainHouse(house: PlainHouse): AnalysisColumns & { readonly trueStanding: Float64Array } {
  const { hours, street, draws = [], noiseBar = 0.004, stepBar = 0, lossFactor = 0.003, heightBar = 0.1 } = house;
  const intervalS = house.intervalS ?? 1;
  const n = Math.floor((hours * HOUR_S) / intervalS);
  const timeMs = new Float64Array(n);
  const pressureBar = new Float64Array(n);
  const flowLpm = new Float64Array(n);
  const trueStanding = new Float64Array(n);
  const noise = normalNoise();
  for (let i = 0; i < n; i++) {
    const atS = i * intervalS;
    let opening = 0;
    for (const draw of draws) if (atS >= draw.fromS && atS < draw.toS) opening += draw.opening;
    const standing = street(atS);
    const head = Math.max(0, standing - heightBar) / (1 + lossFactor * opening * opening);
    const running = opening > 0 ? Math.min(standing, heightBar + head) : standing;
    const reading = running + noiseBar * noise();
    timeMs[i] = MONDAY_MS + atS * 1000;
    pressureBar[i] = stepBar > 0 ? Math.round(reading / stepBar) * stepBar : reading;
    flowLpm[i] = opening * Math.sqrt(head);
    trueStanding[i] = standing;
  }
  return { timeMs, pressureBar, trueStanding, ...(house.metered ? { flowLpm } : {}) };
}

export const PLAIN_SITE: AnalysisSite = {
  timeZone: 'Europe/London',
  intervalS: 1,
  sensor: { position: 'incoming', rangeBar: [0, 10], accuracyBar: 0.02, heightAboveSupplyPointM: 0 },
  hasFlowMeter: false,
  thresholds: DEFAULT_THRESHOLDS,
};

/** Flat street with a smooth fall from `fromS`, lowest between, back by `toS`; each flank `flankS` long. */
export function dip(atS: number, fromS: number, toS: number, flankS: number, depthBar: number): number {
  const rise = (x: number) => (x <= 0 ? 0 : x >= 1 ? 1 : 0.5 - 0.5 * Math.cos(Math.PI * x));
  return -depthBar * rise((atS - fromS) / flankS) * rise((toS - atS) / flankS);
}

/** Repeatable normal deviates: a 32-bit mix of a counter, Box and Muller's transform. */
function normalNoise(): () => number {
  let counter = 1;
  const uniform = () => {
    counter = (counter + 0x6d2b79f5) | 0;
    let x = Math.imul(counter ^ (counter >>> 15), 1 | counter);
    x ^= x + Math.imul(x ^ (x >>> 7), 61 | x);
    return (((x ^ (x >>> 14)) >>> 0) + 0.5) / 4294967296;
  };
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}
