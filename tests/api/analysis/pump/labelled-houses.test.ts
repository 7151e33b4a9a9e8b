import { describe, expect, it } from 'vitest';
import type { HouseOptions } from './booster-house.ts';
import { type Channels, line, measure } from './pump-ruler.ts';

/*
 * Floors on a small physical house whose labels come from its own physics (booster-house.ts), not from the analysis.
 * The laws in it are textbook ones: Boyle, Torricelli, a quadratic pump curve.
 */
interface Case {
  readonly name: string;
  readonly house: HouseOptions;
  readonly channels?: readonly Channels[];
  readonly recall: number;
  readonly precision: number;
  readonly demand: number;
  /** Every episode of a kind names this cause first. */
  readonly cause?: readonly [kind: string, cause: string];
}

const LEAK = { leakLpm: 0.15 };
const VALVE = { valveLpm: 0.25 };
const CASES: readonly Case[] = [
  { name: 'a sound booster', house: {}, recall: 0.99, precision: 0.99, demand: 1 },
  { name: 'a sound booster, 50 mbar of noise', house: { noiseBar: 0.05 }, recall: 0.98, precision: 0.98, demand: 1 },
  {
    name: 'a sound booster, 10-bit converter',
    house: { quantumBar: 0.00978, noiseBar: 0.002 },
    recall: 0.99,
    precision: 0.99,
    demand: 1,
  },
  {
    name: 'a leak',
    house: LEAK,
    recall: 0.99,
    precision: 0.99,
    demand: 0.98,
    cause: ['no_demand', 'leak'],
  },
  {
    name: 'a leak, 50 mbar of noise',
    house: { ...LEAK, noiseBar: 0.05 },
    recall: 0.98,
    precision: 0.98,
    demand: 0.95,
    cause: ['no_demand', 'leak'],
  },
  {
    name: 'a leak, with a flow channel',
    house: LEAK,
    channels: ['flow'],
    recall: 0.99,
    precision: 0.99,
    demand: 0.98,
    cause: ['no_demand', 'leak'],
  },
  {
    name: 'a leak, with a pump channel',
    house: LEAK,
    channels: ['pump'],
    recall: 0.99,
    precision: 0.99,
    demand: 0.97,
    cause: ['no_demand', 'leak'],
  },
  {
    name: 'a leak, every 10 s',
    house: { ...LEAK, intervalS: 10 },
    recall: 0.93,
    precision: 0.99,
    demand: 0.95,
    cause: ['no_demand', 'leak'],
  },
  {
    name: 'a passing check valve',
    house: VALVE,
    recall: 0.99,
    precision: 0.99,
    demand: 0.97,
    cause: ['no_demand', 'check_valve'],
  },
  {
    name: 'a passing check valve, with a transducer before the pump',
    house: VALVE,
    channels: ['inlet'],
    recall: 0.99,
    precision: 0.99,
    demand: 0.97,
    cause: ['no_demand', 'check_valve'],
  },
  {
    name: 'a passing check valve, every 10 s',
    house: { ...VALVE, intervalS: 10 },
    recall: 0.93,
    precision: 0.99,
    demand: 0.95,
    cause: ['no_demand', 'check_valve'],
  },
  {
    name: 'a vessel without its pre-charge',
    house: { gasBarL: 2 },
    recall: 0.98,
    precision: 0.99,
    demand: 0.99,
    cause: ['rapid_on_demand', 'lost_precharge'],
  },
  {
    name: 'a switch set too narrow',
    house: { cutInBar: 2.6, cutOutBar: 2.9 },
    recall: 0.98,
    precision: 0.98,
    demand: 0.98,
    cause: ['rapid_on_demand', 'narrow_differential'],
  },
];

describe('starts, demand and causes on labelled houses', () => {
  it.each(CASES)('are found with $name', ({ name, house, channels, recall, precision, demand, cause }) => {
    const figures = measure(house, channels);
    const figuresLine = line(name, figures);
    expect(figures.recall, figuresLine).toBeGreaterThanOrEqual(recall);
    expect(figures.precision, figuresLine).toBeGreaterThanOrEqual(precision);
    expect(figures.demand, figuresLine).toBeGreaterThanOrEqual(demand);
    if (!cause) {
      expect(figures.found.cycling, figuresLine).toEqual([]);
      return;
    }
    const episodes = figures.found.cycling.filter(({ kind }) => kind === cause[0]);
    expect(episodes.length, figuresLine).toBeGreaterThan(0);
    const named = episodes.filter(({ causes }) => causes[0] === cause[1]).length;
    expect(named / episodes.length, figuresLine).toBeGreaterThanOrEqual(0.9);
  });

  it('says at a minute’s interval what it can’t show, and leaves demand marks out', () => {
    const { found } = measure({ ...LEAK, intervalS: 60 });
    expect(found.pumpStarts.every((start) => start.onDemand === undefined)).toBe(true);
    expect(found.limits.join(' ')).toMatch(/short cycles/);
  });
});

describe('a booster fitted or removed', () => {
  it.each([
    ['fitted', { boosterFromDay: 4 }, 1],
    ['removed', { boosterToDay: 4 }, -1],
  ] as const)('%s is one change, placed within minutes', (_, house, sign) => {
    const { found, log } = measure({ days: 8, ...house });
    expect(found.changes).toHaveLength(1);
    const change = found.changes[0]!;
    expect(change.kind).toBe('booster');
    // With the booster gone its pressure stays shut in until somebody draws: the removal shows then.
    const work = 4 * 86_400;
    const shown = sign > 0 ? work : log.pressureBar.findIndex((bar, row) => row >= work && bar < 1.6);
    expect(Math.abs(Date.parse(change.at) - log.timeMs[shown]!)).toBeLessThan(10 * 60_000);
    expect(sign * (change.toBar - change.fromBar)).toBeGreaterThan(1);
    expect(change.sizeIntervalBar![0]).toBeLessThanOrEqual(change.toBar - change.fromBar);
    expect(change.sizeIntervalBar![1]).toBeGreaterThanOrEqual(change.toBar - change.fromBar);
    const bare = found.pumpStarts.filter((start) => Date.parse(start.start) < Date.parse(change.at) === sign > 0);
    expect(bare.length).toBeLessThanOrEqual(0.01 * found.pumpStarts.length);
  });

  it('isn’t claimed with fewer than three days on a side', () => {
    expect(measure({ days: 5, boosterFromDay: 2.5 }).found.changes).toEqual([]);
  });
});

describe('a weak inlet', () => {
  it('is found in the runs in which the inlet fell below the limit, and only there', () => {
    const { found, log } = measure({ inletBar: 0.75, serviceLossBar: 0.3 }, ['inlet']);
    const weak = log.starts.filter((start) => start.lowestInletBar < 0.29);
    const sound = log.starts.filter((start) => start.lowestInletBar > 0.31);
    expect(weak.length).toBeGreaterThan(10);
    expect(sound.length).toBeGreaterThan(10);
    const within = (start: { startMs: number; stopMs?: number }): boolean =>
      found.weakInlet.some(
        (spell) => Date.parse(spell.start) >= start.startMs - 2_000 && Date.parse(spell.start) <= start.stopMs! + 2_000,
      );
    expect(weak.filter(within).length / weak.length).toBeGreaterThanOrEqual(0.95);
    expect(sound.filter(within).length / sound.length).toBeLessThanOrEqual(0.02);
    const lowest = Math.min(...found.weakInlet.map((spell) => spell.minBar));
    expect(Math.abs(lowest - Math.min(...weak.map((start) => start.lowestInletBar)))).toBeLessThan(0.05);
  });
});
