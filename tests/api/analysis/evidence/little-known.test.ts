import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
import type { AnalysisColumns, AnalysisSite } from '../../../../api/analysis/findings.ts';
import { MONDAY_MS, PLAIN_SITE, plainHouse } from '../plain-house.ts';

const plain = (text: string) => text.replaceAll('\u00a0', ' ');
/** The rate is the log's own. */
const SITE: AnalysisSite = { ...PLAIN_SITE, intervalS: undefined };
const told = (columns: AnalysisColumns, site = SITE) => {
  const found = analyse(columns, site);
  const { statements, open, logging } = found.evidence;
  return {
    found,
    statements: statements.map(({ text, certainty }) => `${plain(text)} [${certainty}]`),
    certainties: new Set(statements.map(({ certainty }) => certainty)),
    open: open.map(plain),
    logging,
  };
};
const rows = (bar: readonly number[], intervalS = 1): AnalysisColumns => ({
  timeMs: Float64Array.from(bar, (_, i) => MONDAY_MS + i * intervalS * 1000),
  pressureBar: Float64Array.from(bar),
});
const steady = (at: number) => 3 + 0.05 * Math.sin(at / 9000);

describe('where nothing is known', () => {
  it.each([
    ['no row', rows([]), /^Nothing can be said of this span: it holds no readings\./],
    ['one row', rows([3]), /^Nothing can be told yet, since there is one reading only\./],
    [
      'rows without values',
      rows(Array(4000).fill(Number.NaN)),
      /^Nothing can be told yet, since none of 4,000 readings can be used: they hold no value/,
    ],
    [
      'rows beyond the range',
      rows(Array(900).fill(12), 10),
      /^Nothing can be told yet, since none of 900 readings can be used: all lie outside the sensor’s range of 0 to 10 bar\./,
    ],
  ])('it says that, and why: %s', (_name, columns, text) => {
    const { statements, certainties, open, logging } = told(columns);
    expect(statements[0]).toMatch(text);
    expect(certainties).toEqual(new Set(['unknown']));
    expect(open.length).toBeGreaterThan(0);
    expect(logging).toEqual({ longEnough: false, text: 'There are no readings yet that could settle anything.' });
  });

  it('so it does at a pump’s outlet', () => {
    const site = { ...SITE, sensor: { ...SITE.sensor, position: 'pump_outlet' as const } };
    expect(told(rows(Array(500).fill(Number.NaN)), site).certainties).toEqual(new Set(['unknown']));
  });

  it.each([10, 60, 300])('two rows %i s apart are too few, and nothing is certain', (intervalS) => {
    const { statements, certainties } = told(rows([3, 3.01], intervalS));
    expect(statements[0]).toMatch(
      /^Whether the supply falls below 0\.70 bar can’t be told yet: less than (a minute|\S+ min) of it/,
    );
    expect(certainties.has('certain')).toBe(false);
  });

  it('two rows tell nothing of low supply', () => {
    const { statements, certainties } = told(rows([3, 3.01]));
    expect(statements).toEqual([
      'Whether the supply falls below 0.70 bar can’t be told yet: less than a minute of it is known. [unknown]',
    ]);
    expect(certainties).toEqual(new Set(['unknown']));
  });
});

describe('where little is known', () => {
  it('low supply is told of the time that could be judged', () => {
    const { statements } = told(plainHouse({ hours: 3, intervalS: 10, street: steady }));
    expect(statements[0]).toMatch(
      /^In the 3 h that could be judged the supply was not seen below 0\.70 bar for a minute or more\./,
    );
  });

  it('less than an hour makes nothing certain', () => {
    const house = (hours: number) => told(plainHouse({ hours, intervalS: 1, street: steady })).certainties;
    expect(house(0.5)).toEqual(new Set(['possible']));
    expect(house(2)).toEqual(new Set(['certain']));
  });

  it('a log that is nearly all gap is not long enough', () => {
    const first = plainHouse({ hours: 24, intervalS: 60, street: steady });
    const days = 100;
    const columns = {
      timeMs: Float64Array.of(...first.timeMs, ...first.timeMs.map((at) => at + days * 86_400_000)),
      pressureBar: Float64Array.of(...first.pressureBar, ...first.pressureBar),
    };
    const { statements, logging } = told(columns);
    expect(statements[0]).toMatch(/^In the 2 days of 101 days that could be judged the supply was not seen below/);
    expect(logging?.longEnough).toBe(false);
    expect(logging?.text).toMatch(/^More days like these would settle little: four of 202 mornings and evenings/);
  });

  it.each([900, 18_000])('at one reading in %i s no sag is absent, and days would not help', (intervalS) => {
    const { found, statements, open, logging } = told(plainHouse({ hours: 240, intervalS, street: steady }));
    expect(new Set(found.sags.map(({ state }) => state))).toEqual(new Set(['unknown']));
    expect(found.sagSummary.every(({ judged, daysToFirm }) => judged === 0 && daysToFirm === null)).toBe(true);
    expect(statements.every((text) => text.endsWith('[possible]'))).toBe(true);
    expect(statements[0]).toMatch(
      /for (45 min|15 h) or more\. Shorter falls can’t be told at one reading in (15 min|5 h)\./,
    );
    expect(open.some((text) => text.startsWith('Whether the street sags can’t be told at one reading in'))).toBe(true);
    expect(logging).toMatchObject({ longEnough: false });
    expect(found.limits.some((text) => /Draws shorter than (45 min|15 h) or/.test(text))).toBe(true);
  });

  it('a reading that never moves may be a dead sensor’s', () => {
    const { open, certainties } = told(rows(Array(17_280).fill(3), 10));
    expect(open[0]).toBe(
      'The reading stayed at exactly 3.00 bar for 2 days, from Monday 4 May 2026 at 00:00: a dead sensor can’t be ruled out. Open a tap and look whether the reading moves.',
    );
    expect(certainties).toEqual(new Set(['possible']));
  });

  it.each([
    ['a coarse converter on a main that moves', { stepBar: 0.05 }],
    ['a fine one', {}],
  ])('%s is not suspected', (_name, house) => {
    const { open } = told(plainHouse({ hours: 48, intervalS: 10, street: steady, ...house }));
    expect(open.some((text) => text.includes('dead sensor'))).toBe(false);
  });
});

describe('one evening’s sag among ordinary demand', () => {
  const DAY_S = 86_400;
  /** Every morning and evening dips by some hundredths of a bar; Wednesday's evening by far more. */
  const street = (at: number) => {
    const day = Math.floor(at / DAY_S);
    const hour = (at % DAY_S) / 3600;
    const bump = (centre: number) => Math.exp(-(((hour - centre) / 0.7) ** 2));
    const demand = (0.05 + 0.004 * day) * (bump(7.5) + bump(19));
    return 2 - demand - (day === 2 ? 0.9 * bump(18.5) : 0);
  };

  it('is told as that evening, not as a pattern that chance hardly gives', () => {
    const { found, statements } = told(plainHouse({ hours: 120, intervalS: 60, street }));
    const evenings = found.sagSummary.find(({ window }) => window === 'evening')!;
    expect(evenings).toMatchObject({ present: 1, judged: 5 });
    expect(evenings).not.toHaveProperty('chance');
    expect(evenings.daysToFirm).toBeGreaterThan(0);
    const sags = statements.filter((text) => text.includes('sag'));
    expect(sags).toHaveLength(1);
    expect(sags[0]).toMatch(
      /^On Wednesday 6 May 2026 the street’s pressure sagged in the evening, from 1\d:\d\d to 1\d:\d\d, by 0\.9\d bar: the only one of five weekday evenings judged\. \[certain\]$/,
    );
  });
});
