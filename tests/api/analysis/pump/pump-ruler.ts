import type { AnalysisSite } from '../../../../api/analysis/findings.ts';
import type { PumpResult } from '../../../../api/analysis/pump/pump-findings.ts';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';
import { boosterHouse, type HouseOptions, type LabelledLog } from './booster-house.ts';

export const OUTLET_SITE: AnalysisSite = {
  timeZone: 'UTC',
  sensor: { position: 'pump_outlet', rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
  hasFlowMeter: false,
  thresholds: DEFAULT_THRESHOLDS,
};

export interface Measured {
  readonly log: LabelledLog;
  readonly found: PumpResult;
  readonly truth: number;
  readonly recall: number;
  readonly precision: number;
  /** Share of matched starts whose demand mark is right. */
  readonly demand: number;
  /** Matched starts truly without demand, and how many of them are marked so. */
  readonly withoutDemand: readonly [number, number];
  /** Mean distance of matched starts and stops, seconds. */
  readonly startErrorS: number;
  readonly stopErrorS: number;
  /** First-named causes by kind of episode, with their counts. */
  readonly firstCauses: Readonly<Record<string, number>>;
}

export type Channels = 'pressure' | 'flow' | 'pump' | 'inlet';

export function measure(options: HouseOptions, channels: readonly Channels[] = ['pressure']): Measured {
  const log = boosterHouse(options);
  const intervalS = options.intervalS ?? 1;
  const found = findPump({
    timeMs: log.timeMs,
    pressureBar: log.pressureBar,
    ...(channels.includes('flow') ? { flowLpm: log.flowLpm } : {}),
    ...(channels.includes('pump') ? { pumpOn: log.pumpOn } : {}),
    ...(channels.includes('inlet') ? { inletBar: log.inletBar } : {}),
    site: OUTLET_SITE,
    intervalS,
    noiseBar: options.noiseBar ?? 0.005,
    quantumBar: options.quantumBar ?? 0.001,
  });
  return score(log, found, Math.max(3_000, 1_500 * intervalS));
}

function score(log: LabelledLog, found: PumpResult, toleranceMs: number): Measured {
  const starts = found.pumpStarts.map((start) => ({
    ms: Date.parse(start.start),
    stopMs: start.stop === undefined ? undefined : Date.parse(start.stop),
    onDemand: start.onDemand,
  }));
  let matched = 0;
  let right = 0;
  let idle = 0;
  let idleRight = 0;
  let startError = 0;
  let stopError = 0;
  let stops = 0;
  let k = 0;
  for (const truth of log.starts) {
    while (k < starts.length && starts[k]!.ms < truth.startMs - toleranceMs) k++;
    const start = starts[k];
    if (!start || start.ms > truth.startMs + toleranceMs) continue;
    k++;
    matched++;
    startError += Math.abs(start.ms - truth.startMs);
    if (start.stopMs !== undefined && truth.stopMs !== undefined) {
      stops++;
      stopError += Math.abs(start.stopMs - truth.stopMs);
    }
    if (start.onDemand === truth.onDemand) right++;
    if (!truth.onDemand) {
      idle++;
      if (start.onDemand === false) idleRight++;
    }
  }
  const firstCauses: Record<string, number> = {};
  for (const { kind, causes } of found.cycling) {
    const key = `${kind}:${causes[0]}`;
    firstCauses[key] = (firstCauses[key] ?? 0) + 1;
  }
  return {
    log,
    found,
    truth: log.starts.length,
    recall: matched / Math.max(1, log.starts.length),
    precision: matched / Math.max(1, starts.length),
    demand: right / Math.max(1, matched),
    withoutDemand: [idle, idleRight],
    startErrorS: startError / Math.max(1, matched) / 1000,
    stopErrorS: stopError / Math.max(1, stops) / 1000,
    firstCauses,
  };
}

export function line(name: string, figures: Measured): string {
  const { truth, recall, precision, demand, withoutDemand, startErrorS, stopErrorS, firstCauses } = figures;
  return (
    `${name}: ${truth} starts, recall ${recall.toFixed(3)}, precision ${precision.toFixed(3)}, ` +
    `demand ${demand.toFixed(3)} (idle ${withoutDemand[1]}/${withoutDemand[0]}), start ±${startErrorS.toFixed(1)} s, ` +
    `stop ±${stopErrorS.toFixed(1)} s, ${JSON.stringify(firstCauses)}`
  );
}
