import { describe, expect, it } from 'vitest';
import { chatterSpells } from '../../../../api/analysis/pump/coarse-chatter.ts';
import { pumpRows } from '../../../../api/analysis/pump/pump-rows.ts';
import { random } from './seeded-random.ts';

const CUT_IN_BAR = 2;
const CUT_OUT_BAR = 3.4;
const NOISE_BAR = 0.01;
const DAY_S = 86_400;

/**
 * Two days of a vessel between two switch points, read every 10 s: a draw empties it evenly, the pump fills it evenly and
 * `fillS` is how long that takes with nobody drawing. Showers of `showerShare` of what the pump gives, brief draws of
 * other sizes, and a drip. A cycle lasts fill/(share·(1 − share)), 4·fill at least.
 */
function vesselReadings(fillS: number, showerShare: number, seed: number): { bar: Float64Array; quickestS: number } {
  const next = random(seed);
  const seconds = 2 * DAY_S;
  const drawn = new Float64Array(seconds).fill(0.001);
  for (let at = 900; at < seconds - 900; at += 600 + 900 * next()) {
    const shower = next() < 0.4;
    const share = shower ? showerShare * (0.8 + 0.4 * next()) : 0.05 + 0.25 * next();
    const lasting = shower ? 240 + 240 * next() : 15 + 45 * next();
    for (let k = 0; k < lasting; k++) drawn[Math.floor(at) + k]! += share;
    // Now and then a second tap opens beside it.
    if (next() < 0.5) for (let k = 0; k < 20; k++) drawn[Math.floor(at) + k]! += 0.5;
  }
  const bar = new Float64Array(seconds / 10);
  let level = 0.7;
  let on = false;
  let startedS = Number.NEGATIVE_INFINITY;
  let quickestS = Number.POSITIVE_INFINITY;
  for (let tenth = 0; tenth < 10 * seconds; tenth++) {
    if (tenth % 100 === 0)
      bar[tenth / 100] =
        CUT_IN_BAR + level * (CUT_OUT_BAR - CUT_IN_BAR) + NOISE_BAR * (next() + next() + next() - 1.5) * 2;
    level += (0.1 * ((on ? 1 : 0) - drawn[Math.floor(tenth / 10)]!)) / fillS;
    if (!on && level <= 0) {
      on = true;
      quickestS = Math.min(quickestS, tenth / 10 - startedS);
      startedS = tenth / 10;
    } else if (on && level >= 1) on = false;
  }
  return { bar, quickestS };
}

function spells(bar: Float64Array): number {
  const timeMs = Float64Array.from(bar, (_, k) => Date.UTC(2026, 4, 4) + 10_000 * k);
  const rows = pumpRows(timeMs, bar, 10, NOISE_BAR, 0.0001);
  const levels = { cutInBar: CUT_IN_BAR, cutOutBar: CUT_OUT_BAR };
  return chatterSpells(rows, [{ fromMs: 0, toMs: Number.POSITIVE_INFINITY, levels }], 'UTC').length;
}

// The definition of rapid cycling: starts on demand at most 15 s apart.
describe('rapid cycling between readings 10 s apart', () => {
  // On these seeds two taps opened at once look, a few times a day, like a vessel that empties within one interval.
  it.each([2, 6, 9, 17, 28, 44])('is not told of a vessel that takes 7 s to fill, seed %i', (seed) => {
    const { bar, quickestS } = vesselReadings(7, 0.4, seed);
    expect(quickestS).toBeGreaterThan(15);
    expect(spells(bar)).toBe(0);
  });

  it.each([1, 2, 3, 4])('is told of one that takes a second, seed %i', (seed) => {
    const { bar, quickestS } = vesselReadings(1, 0.4, seed);
    expect(quickestS).toBeLessThan(6);
    expect(spells(bar)).toBeGreaterThan(0);
  });
});
