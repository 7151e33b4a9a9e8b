import { analyse } from '../../api/analysis/analyse.ts';
import { DEFAULT_THRESHOLDS } from '../../collector/model/site.ts';
import { rollingQuantiles } from './rolling-quantiles.ts';
import { median, type TrialResult } from './trials.ts';

const N = 604_800;
const START_MS = Date.UTC(2026, 4, 4);
const RUNS = 5;

/** A week at one sample a second: a street that breathes, draws of a household, noise; made by arithmetic alone. */
function week(): { timeMs: Float64Array; pressureBar: Float64Array; millibar: Int32Array } {
  const timeMs = new Float64Array(N);
  const pressureBar = new Float64Array(N);
  const millibar = new Int32Array(N);
  let state = 12345;
  const random = () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
  let drawUntil = 0;
  let drop = 0;
  for (let second = 0; second < N; second++) {
    const hour = (second / 3600) % 24;
    const street = 2.2 - 0.6 * Math.exp(-((hour - 7.7) ** 2) / 0.8) - 0.3 * Math.exp(-((hour - 19) ** 2) / 3);
    if (second >= drawUntil && hour > 6 && random() < 1 / 900) {
      drawUntil = second + 20 + Math.floor(random() * 400);
      drop = 0.1 + 0.5 * random();
    }
    const noise = (random() + random() + random() - 1.5) * 0.01;
    millibar[second] = Math.round(1000 * (street - (second < drawUntil ? drop : 0) + noise));
    timeMs[second] = START_MS + second * 1000;
    pressureBar[second] = millibar[second]! / 1000;
  }
  return { timeMs, pressureBar, millibar };
}

const { timeMs, pressureBar, millibar } = week();
const site = {
  timeZone: 'Europe/London',
  sensor: { position: 'incoming' as const, rangeBar: [0, 10] as const, heightAboveSupplyPointM: 0 },
  hasFlowMeter: false,
  thresholds: DEFAULT_THRESHOLDS,
};
const bare: number[] = [];
const ours: number[] = [];
for (let run = 0; run <= RUNS; run++) {
  let started = performance.now();
  rollingQuantiles(millibar, 3600, [0.05, 0.5, 0.95]);
  const bareMs = performance.now() - started;
  started = performance.now();
  analyse({ timeMs, pressureBar }, site);
  const oursMs = performance.now() - started;
  // The first turn only warms the compiler.
  if (run > 0) {
    bare.push(bareMs);
    ours.push(oursMs);
  }
}
const result: TrialResult = { bare: median(bare), ours: median(ours) };
console.log(JSON.stringify(result));
