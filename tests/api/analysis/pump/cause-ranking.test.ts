import { describe, expect, it } from 'vitest';
import { oddsWords } from '../../../../api/analysis/pump/cause-figures.ts';
import { weighCauses } from '../../../../api/analysis/pump/cause-weights.ts';
import { rankChatter } from '../../../../api/analysis/pump/cycling-causes.ts';
import { measure } from './pump-ruler.ts';

describe('the rule of the ranking', () => {
  it('stands in the findings with the odds and every figure that separates the causes', () => {
    const { found } = measure({ days: 3, leakLpm: 0.25, inletSwingBar: 0.4 }, ['pressure', 'inlet']);
    const told = found.cycling.find(({ kind }) => kind === 'no_demand')!;
    const { rule, odds, figures } = told.ranking!;
    expect(rule).toMatch(/from 20 to 1 on only the likelier is named/i);
    expect(odds).toMatchObject({ needed: 20, most: 90 });
    // Odds below one to twenty are the leak's, and then it stands alone; probability is odds / (1 + odds).
    const towards = odds!.checkValveToLeak < 1 ? 1 / odds!.checkValveToLeak : odds!.checkValveToLeak;
    expect(odds!.probability).toBeCloseTo(towards / (1 + towards), 2);
    expect(told.causes.includes('check_valve')).toBe(towards < 20);
    const product = (odds!.fromDecay ?? 1) * (odds!.fromHours ?? 1);
    expect(Math.log(product)).toBeCloseTo(Math.log(odds!.checkValveToLeak), 1);
    const byName = new Map(figures.map((one) => [one.figure, one]));
    expect(byName.get('band')).toMatchObject({ unit: 'bar', limit: 0.85 });
    expect(byName.get('fill')).toMatchObject({ unit: 's', limit: 1.6 });
    for (const figure of ['irregularity', 'falls_towards', 'inlet'] as const)
      expect(byName.has(figure), figure).toBe(true);
    expect(byName.get('falls_towards')!.sd).toBeGreaterThan(0);
    expect(told.reasons!.at(-1)).toMatch(/The odds are .* to 1 for a leak/);
    expect(found.statements[0]!.text).toMatch(/\(odds .* to 1 for .*; 20 to 1 is asked\)/);
  });

  it('holds the water of a start where a bucket calibrates the vessel', () => {
    const { found } = measure({ days: 1, leakLpm: 0.25 });
    expect(found.cycling[0]!.ranking!.figures.some(({ figure }) => figure === 'drawdown')).toBe(false);
  });

  it('is stated for spells that coarse rows show only as a whole, too', () => {
    const { ranking } = rankChatter({ lowBar: 2, highBar: 2.9 });
    expect(ranking.rule).toMatch(/under 0\.5 bar names a switch.*up to 1\.1 bar/s);
    expect(ranking.figures[0]).toMatchObject({ figure: 'band', value: 0.9, limit: 0.5 });
    expect(ranking).not.toHaveProperty('odds');
  });

  it.each([
    [0.05, '20 to 1 for a leak against a passing check valve'],
    [0.9, '1.1 to 1 for a leak against a passing check valve'],
    [35.4, '35 to 1 for a passing check valve against a leak'],
    [8100, 'over 1000 to 1 for a passing check valve against a leak'],
  ])('says odds of %d in words', (checkValveToLeak, words) => {
    expect(oddsWords({ checkValveToLeak })).toBe(words);
  });

  it('weighs episodes by their starts, a second-named cause at half', () => {
    const episodes = [
      { causes: ['leak', 'check_valve'] as const, starts: 30 },
      { causes: ['check_valve'] as const, starts: 20 },
    ];
    expect(weighCauses(episodes)).toEqual({ causes: ['check_valve', 'leak'], sure: false });
    expect(weighCauses(episodes.slice(1))).toEqual({ causes: ['check_valve'], sure: true });
    expect(weighCauses([])).toEqual({ causes: [], sure: true });
  });
});
