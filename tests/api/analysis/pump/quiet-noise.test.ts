import { describe, expect, it } from 'vitest';
import { quietNoiseBar } from '../../../../api/analysis/pump/quiet-noise.ts';
import { measure } from './pump-ruler.ts';
import { random } from './seeded-random.ts';

describe('noise of a log in which a pump moves every row', () => {
  it('is that of its quiet part, within a third of what was put in', () => {
    const next = random(5);
    const normal = () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
    const noisy = Float64Array.from({ length: 6000 }, (_, k) => (k < 600 ? 3 : 2 + 1.5 * next()) + 0.01 * normal());
    expect(quietNoiseBar(noisy, 0.9, 0.001)).toBeGreaterThan(0.01 / 1.33);
    expect(quietNoiseBar(noisy, 0.9, 0.001)).toBeLessThan(0.01 * 1.5);
  });

  it('stays what it is where it can be believed, and where the converter is as coarse', () => {
    const still = new Float64Array(1000).fill(3);
    expect(quietNoiseBar(still, 0.05, 0)).toBe(0.05);
    expect(quietNoiseBar(still, 0.2, 0.33)).toBe(0.2);
  });

  it('lets a leak of one start a minute show at a reading a minute', () => {
    const { found } = measure({ days: 3, leakLpm: 1.4, faultFromDay: 0.5, intervalS: 60 });
    const days = new Set(found.cycling.map(({ start }) => start.slice(0, 10)));
    expect(days.size).toBeGreaterThanOrEqual(2);
    expect(found.cycling.every(({ kind }) => kind === 'no_demand')).toBe(true);
  });
});
