import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openQuestions } from '../../../../api/analysis/evidence/open-questions.ts';
import { supplyStatements } from '../../../../api/analysis/evidence/statements.ts';
import { FIRM_P, LONGEST_WAIT_DAYS } from '../../../../api/analysis/supply/days-to-firm.ts';
import { type SeenSupply, seenSupply } from './seen-supply.ts';

function asked(seen: SeenSupply) {
  const { found, summaries, budget, site, span } = seenSupply(seen);
  return openQuestions(found, summaries, budget, site, span);
}

function stated(seen: SeenSupply) {
  const { found, summaries, budget, site } = seenSupply(seen);
  return supplyStatements(found, summaries, site, budget);
}

const plain = (text: string) => text.replaceAll('\u00a0', ' ');

/*
 * Chances: exact one-sided signed rank (Hollander and Wolfe, chapter 3). All n positive: 2⁻ⁿ. Of the days below "-" fell
 * less in the window than at midday (0.05 against 0.1 bar), by less than a sag's days fell more.
 */
describe('how many more days would settle whether sags are chance', () => {
  it.each([
    [
      'S',
      'One of one weekday mornings sagged: four more weekdays like it give a firm statement, within four days of logging.',
      4,
    ],
    [
      'SSS',
      'Three of three weekday mornings sagged, which chance alone gives 12.5 % of the time: two more weekdays like these give a firm statement, within two days of logging.',
      2,
    ],
    // Thursday's log: the fifth weekday is tomorrow.
    [
      'SSSS',
      'Four of four weekday mornings sagged, which chance alone gives 6.3 % of the time: one more weekday like these gives a firm statement, by one day of logging.',
      1,
    ],
    // Wednesday to Friday known, of weekdays four of five; the sixth is Monday, after the weekend.
    [
      'SS-SS',
      'Four of five weekday mornings sagged, which chance alone gives 6.3 % of the time: one more weekday like these gives a firm statement, within three days of logging.',
      3,
    ],
    // A day that can't be judged is no judged day: four of four, and the fifth may fail to be judged as often as one did.
    [
      'SS?SS',
      'Four of four weekday mornings sagged, which chance alone gives 6.3 % of the time: one more weekday like these gives a firm statement, within four days of logging.',
      4,
    ],
  ])('%s', (mornings, sentence, moreDays) => {
    const { open, moreDays: days } = asked({ mornings, evenings: '' });
    expect(open.map(plain)).toContain(sentence);
    expect(days).toBe(moreDays);
  });

  it('five weekdays of one mind are firm, and the weekend that showed none asks for no more', () => {
    const { open, moreDays, logging } = asked({ mornings: 'SSSSS--' });
    expect(moreDays).toBe(0);
    expect(open.some((text) => text.includes('more weekday'))).toBe(false);
    expect(logging).toEqual({
      longEnough: true,
      text: 'The log is long enough: what is open asks for something else than more days.',
    });
    expect(stated({ mornings: 'SSSSS--' })[1]).toMatchObject({ certainty: 'certain' });
  });

  it('weekend days are waited for over weekdays', () => {
    // Sunday evening: the next three weekend days are Saturday, Sunday and the Saturday after: 6, 7 and 13 days on.
    const { open, moreDays } = asked({ mornings: 'SSSSSSS' });
    expect(open.map(plain)).toContain(
      'Two of two weekend mornings sagged: three more weekend days like these give a firm statement, within 13 days of logging.',
    );
    expect(moreDays).toBe(13);
  });

  it('says where logging alone will hardly settle it', () => {
    const { open, moreDays, logging } = asked({ mornings: 'S---S-----S----', middayFallBar: 0.5 });
    expect(open.some((text) => text.includes('logging alone will hardly settle whether that is chance'))).toBe(true);
    expect(moreDays).toBe(0);
    expect(logging.longEnough).toBe(true);
  });

  it.each([
    [
      '?',
      'No weekday morning or evening could be judged yet: five more weekdays without one tell that the street sags on fewer than half of them, within seven days of logging.',
    ],
    [
      '--',
      'No sag was seen, with two weekday mornings and evenings judged: three more weekdays without one tell that the street sags on fewer than half of them, within three days of logging.',
    ],
  ])('counts days without a sag too: %s', (days, sentence) => {
    expect(asked({ mornings: days, evenings: days }).open).toContain(sentence);
  });

  it('a log without sags or low periods is long enough after five weekdays, with nothing open', () => {
    expect(asked({ mornings: '-----' })).toEqual({
      open: [],
      moreDays: 0,
      logging: { longEnough: true, text: 'The log is long enough: nothing is left open.' },
    });
  });

  it('where days can hardly ever be judged, more of them are not promised', () => {
    const { moreDays, open } = asked({ mornings: '?????????', evenings: '?????????' });
    expect(moreDays).toBe(0);
    expect(open.some((text) => text.includes('will hardly change that'))).toBe(true);
  });

  it('a window that isn’t over is no open question', () => {
    const { found, summaries, budget, site, span } = seenSupply({ mornings: '-----', evenings: '----?' });
    const until = (endMs: number) => openQuestions(found, summaries, budget, site, { ...span, endMs }).open;
    const told = 'For one morning or evening it can’t be told whether the street sagged.';
    expect(until(span.endMs)).toContain(told);
    // Friday at 18:00, an hour into the evening.
    expect(until(span.endMs - 6 * 3_600_000)).not.toContain(told);
  });
});

describe('what the sensor can’t settle', () => {
  // JCGM 100, 4.3.7: limits ±0.1 bar, rectangular, give u = 0.0577 bar, U = 2u = 0.1155 bar, told as ±0.12 bar.
  const CALIBRATE = 'calibrate it against a gauge at two pressures. More days won’t settle it.';
  it.each([
    [
      'the standing level comes near before any low period',
      { lowestBar: 0.78 },
      `The sensor’s ±0.12 bar can’t settle 0.69 bar, since the lowest standing pressure so far is 0.78 bar: ${CALIBRATE}`,
    ],
    [
      'a low period within the uncertainty, on the first day',
      { lowestBar: 0.61, lowSupply: [{}] },
      `The sensor’s ±0.12 bar can’t settle 0.69 bar, since the lowest standing pressure so far is 0.61 bar: ${CALIBRATE}`,
    ],
    [
      'some periods only are within it',
      { lowestBar: 0.3, lowSupply: [{ certain: true }, { minBar: 0.65 }] },
      `One of two low-supply periods is possible only, not certain, within the sensor’s ±0.12 bar: ${CALIBRATE}`,
    ],
    [
      'a calibrated one',
      { lowestBar: 0.68, calibratedBar: 0.01 },
      'The sensor’s ±0.02 bar can’t settle 0.69 bar, since the lowest standing pressure so far is 0.68 bar: this is what its calibration left; only a comparison with a better gauge would lessen it. More days won’t settle it.',
    ],
  ] satisfies [string, Partial<SeenSupply>, string][])('%s', (_name, seen, sentence) => {
    expect(asked({ mornings: '-', ...seen }).open.map(plain)).toContain(sentence);
  });

  it.each([
    ['far above', { lowestBar: 0.85 }],
    ['far below, all periods certain', { lowestBar: 0.3, lowSupply: [{ certain: true, minBar: 0.3 }] }],
    ['calibrated well enough', { lowestBar: 0.75, calibratedBar: 0.01 }],
  ] satisfies [string, Partial<SeenSupply>][])('nothing where it can: %s', (_name, seen) => {
    expect(asked({ mornings: '-', ...seen }).open.some((text) => text.includes('can’t settle'))).toBe(false);
  });

  it('"not seen below" is certain only beyond the uncertainty', () => {
    expect(stated({ mornings: '-', lowestBar: 0.85 })[0]).toMatchObject({ certainty: 'certain' });
    expect(stated({ mornings: '-', lowestBar: 0.78 })[0]).toMatchObject({ certainty: 'possible' });
  });
});

describe('the running answer as days go by', () => {
  const week = fc.array(fc.constantFrom('S', '-', '?'), { minLength: 1, maxLength: 12 }).map((days) => days.join(''));

  it('is firm exactly where chance is rarer than one in twenty, for every window with sags', () => {
    fc.assert(
      fc.property(week, week, (mornings, evenings) => {
        for (const { present, chance, daysToFirm } of seenSupply({ mornings, evenings }).summaries)
          if (present > 0) expect(daysToFirm === 0).toBe(chance !== undefined && chance.p < FIRM_P);
      }),
    );
  });

  it('whole weeks over again never make it less firm, nor the wait longer', () => {
    const weeks = fc.array(fc.constantFrom('S', '-'), { minLength: 7, maxLength: 7 }).map((days) => days.join(''));
    fc.assert(
      fc.property(weeks, fc.integer({ min: 1, max: 3 }), (days, times) => {
        const wait = (mornings: string) => {
          const { moreDays, open } = asked({ mornings, evenings: '' });
          return open.some((text) => text.includes('hardly')) ? Number.POSITIVE_INFINITY : moreDays;
        };
        expect(wait(days.repeat(times + 1))).toBeLessThanOrEqual(wait(days.repeat(times)));
      }),
      { numRuns: 50 },
    );
  });

  it('never asks for more than four weeks', () => {
    fc.assert(
      fc.property(week, week, (mornings, evenings) => {
        expect(asked({ mornings, evenings }).moreDays).toBeLessThanOrEqual(LONGEST_WAIT_DAYS);
      }),
    );
  });
});
