import { describe, expect, it } from 'vitest';
import type { PumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { spinUpOf } from '../../../../api/analysis/pump/spin-up.ts';
import { random } from './seeded-random.ts';

/*
 * Fills of a vessel by Boyle's law (isothermal, absolute pressures) through a pump with H = H0·s² − b·Q² (affinity laws
 * with a parabola for its curve) whose speed grows evenly. The truth is computed from the same run, finely: for how long the
 * pump would have given nothing had it been at full flow after.
 */
const ATMOSPHERE = 1.01325;
const [H0, B, INLET, GAS, CUT_IN] = [4.2, 4.2 / 45 ** 2, 1.0, 22.5, 2.0];

function fill(spinUpS: number, phaseS: number, noiseBar: number, next: () => number, drawLpm = 0) {
  const step = 0.005;
  const beforeS = 20;
  let bar = CUT_IN + (drawLpm > 0 ? ((drawLpm / 60) * beforeS * (CUT_IN + ATMOSPHERE) ** 2) / GAS : 0);
  let [given, full, lastFull] = [0, 0, 0];
  const bars: number[] = [];
  const seconds: number[] = [];
  for (let k = 0; bar < 3.5 || k * step < beforeS; k++) {
    const t = k * step - beforeS;
    const speed = t < 0 ? 0 : Math.min(1, t / spinUpS);
    const drive = INLET + H0 * speed * speed - bar;
    const flow = t < 0 || drive <= 0 ? 0 : Math.sqrt(drive / B);
    if (t >= 0 && t < spinUpS) {
      lastFull = Math.sqrt((INLET + H0 - bar) / B);
      given += flow * step;
      full += lastFull * step;
    }
    if ((t - phaseS + 1000) % 1 < step / 2 || (t - phaseS + 1000) % 1 > 1 - step / 2) {
      const noise = Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
      bars.push(bar + noiseBar * noise);
      seconds.push(Math.round((t - phaseS) * 1000) / 1000 + phaseS);
    }
    bar += (((flow - drawLpm) / 60) * step * (bar + ATMOSPHERE) ** 2) / GAS;
  }
  const lagS = (full - given) / lastFull;
  const read = Float64Array.from(bars);
  const rows: PumpRows = {
    timeMs: Float64Array.from(seconds, (s) => 1000 * s),
    bar: read,
    calmBar: read,
    stretchFrom: Int32Array.from([0, bars.length]),
    noiseBar,
    calmNoiseBar: noiseBar,
    quantumBar: 0,
    intervalMs: 1000,
  };
  return { rows, lagS };
}

const TRIES = 60;

function estimates(spinUpS: number, drawLpm: number, noiseBar = 0.004) {
  const next = random(11);
  const found: number[] = [];
  let truth = 0;
  for (let k = 0; k < TRIES; k++) {
    const { rows, lagS } = fill(spinUpS, Math.floor(next() * 200) / 200, noiseBar, next, drawLpm);
    const startRow = rows.timeMs.findLastIndex((ms) => ms <= 0);
    const channelMs = rows.timeMs.find((ms) => ms > 0)!;
    truth += lagS;
    const run = {
      startMs: channelMs,
      startRow,
      stopMs: rows.timeMs.at(-1)!,
      stopRow: rows.timeMs.length - 1,
    };
    const spun = spinUpOf(rows, run, 0);
    if (spun) found.push(spun.seconds);
  }
  const mean = found.reduce((sum, value) => sum + value, 0) / found.length;
  return { mean, truth: truth / TRIES, share: found.length / TRIES };
}

describe('how long a pump spins up', () => {
  it.each([0.4, 0.8, 1.2, 2])('of %d s is told from its switching where the channel tells that', (spinUpS) => {
    const { mean, truth, share } = estimates(spinUpS, 8);
    expect(share).toBeGreaterThan(0.9);
    expect(Math.abs(mean - truth)).toBeLessThan(0.15);
  });

  it('isn’t told from rows too coarse, nor from a fill too short', () => {
    const { rows } = fill(0.8, 0.3, 0.004, random(1));
    const last = rows.timeMs.length - 1;
    const run = { startMs: 300, startRow: 19, stopMs: rows.timeMs[last]!, stopRow: last };
    expect(spinUpOf({ ...rows, intervalMs: 10_000 }, run, 0)).toBeUndefined();
    expect(spinUpOf(rows, { ...run, stopRow: 22 }, 0)).toBeUndefined();
  });
});
