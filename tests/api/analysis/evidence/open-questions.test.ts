import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { calendarDays } from '../../../../api/analysis/evidence/days-to-wait.ts';
import { openQuestions } from '../../../../api/analysis/evidence/open-questions.ts';
import { supplyStatements } from '../../../../api/analysis/evidence/statements.ts';
import { FIRM_P, LONGEST_WAIT_DAYS } from '../../../../api/analysis/supply/days-to-firm.ts';
import { summariseSags } from '../../../../api/analysis/supply/sag-summary.ts';
import { MONDAY_MS, type SeenSupply, seenSupply } from './seen-supply.ts';

const asked = (seen: SeenSupply) => openQuestions(seenSupply(seen));
const stated = (seen: SeenSupply) => supplyStatements(seenSupply(seen));
const plain = (text: string) => text.replaceAll('\u00a0', ' ');

/*
 * Chances: McNemar's exact one-sided test, the sign test of days that fell so far in the window only (Conover, 3.5): of n
 * such days and none at midday only, 2⁻ⁿ.
 */
describe('how many more days would settle whether sags are chance', () => {
  it.each([
    [
      'S',
      'The one weekday morning judged so far sagged: one day is no pattern. Four more weekdays like it would tell one from chance, within four days of logging.',
      4,
    ],
    [
      'SSS',
      'Three of three weekday mornings sagged; three fell so far in the morning only and none at midday (11:00 to 17:00) only, which chance alone gives 12.5 % of the time (McNemar’s exact test): two more weekdays like these give a firm statement, within two days of logging.',
      2,
    ],
    // Thursday's log: the fifth weekday is tomorrow.
    [
      'SSSS',
      'Four of four weekday mornings sagged; four fell so far in the morning only and none at midday (11:00 to 17:00) only, which chance alone gives 6.3 % of the time (McNemar’s exact test): one more weekday like these gives a firm statement, by one day of logging.',
      1,
    ],
    // A day without a sag is no day against it, nor for it: the sixth day is Monday, after the weekend.
    [
      'SS-SS',
      'Four of five weekday mornings sagged; four fell so far in the morning only and none at midday (11:00 to 17:00) only, which chance alone gives 6.3 % of the time (McNemar’s exact test): one more weekday like these gives a firm statement, within three days of logging.',
      3,
    ],
    // A day that can't be judged is no judged day: four of four, and the fifth may fail to be judged as often as one did.
    [
      'SS?SS',
      'Four of four weekday mornings sagged; four fell so far in the morning only and none at midday (11:00 to 17:00) only, which chance alone gives 6.3 % of the time (McNemar’s exact test): one more weekday like these gives a firm statement, within four days of logging.',
      4,
    ],
    // One day in five makes five of 23, to the nearest: 18 more weekdays, to the Wednesday three weeks and a half on.
    [
      '--S--',
      'One of five weekday mornings sagged: one day is no pattern. 18 more weekdays like these would tell one from chance, within 26 days of logging.',
      26,
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
    // The days, that mornings sag oftener than midday (2⁻⁵), and that weekdays differ (1 of 21 ways, Fisher).
    const { 1: days, 2: pattern, 3: difference } = stated({ mornings: 'SSSSS--' });
    expect(days).toEqual({
      text: 'On five of five weekday mornings the street’s pressure sagged, usually from 06:30 to 08:00, by 0.62 bar (0.60 to 0.64).',
      certainty: 'certain',
    });
    expect([pattern, difference].map((one) => ({ ...one, text: plain(one!.text) }))).toEqual([
      {
        text: 'Weekday mornings sag oftener than midday (11:00 to 17:00) of the same days: five fell by 0.30 bar or more in the morning only, none at midday only. Were both alike, chance alone would give that 3.1 % of the time (McNemar’s exact test).',
        certainty: 'certain',
      },
      {
        text: 'Weekdays and weekend days differ in the morning: five of five weekdays and none of two weekend days sagged. Were all days alike, chance alone would give so great a difference 4.8 % of the time (Fisher’s exact test).',
        certainty: 'certain',
      },
    ]);
  });

  it('one sagging day is told as that day, whatever the others did: no pattern, no chance, nothing usual', () => {
    for (const mornings of ['S', '--S--', '-S-------']) {
      const [, day, next] = stated({ mornings, evenings: '' });
      expect(day!.text).toMatch(
        /^On (Monday 5|Wednesday 7|Tuesday 6) January 2026 the street’s pressure sagged in the morning/,
      );
      expect(day!.text).not.toMatch(/usually|chance|on one of/i);
      expect(day!.certainty).toBe('certain');
      expect(next!.text).toContain('With nobody drawing');
    }
  });

  it('one that had not recovered is not given an end', () => {
    const known = seenSupply({ mornings: '--S--', evenings: '' });
    const sags = known.found.sags.map((sag) => (sag.state === 'present' ? { ...sag, recovered: false } : sag));
    expect(supplyStatements({ ...known, found: { ...known.found, sags } })[1]!.text).toContain(
      'in the morning, from 06:30, not recovered by 08:00, by 0.62 bar: the only one of five weekday mornings judged.',
    );
  });

  it('days that fell as far at midday are no pattern of the morning', () => {
    const { open } = asked({ mornings: 'SSSSS', middays: 'SSSSS', evenings: '' });
    expect(open.some((text) => text.includes('logging alone will hardly settle'))).toBe(true);
    expect(stated({ mornings: 'SSSSS', middays: 'SSSSS' }).some(({ text }) => text.includes('oftener'))).toBe(false);
  });

  it('a fall within its uncertainty of the least that counts leaves the day possible', () => {
    const known = seenSupply({ mornings: 'SSSSS' });
    const sags = known.found.sags.map((sag, i) => (i === 2 ? { ...sag, depthBar: 0.31 } : sag));
    const summaries = summariseSags(sags, known.site.timeZone, 0.3);
    const [, days] = supplyStatements({ ...known, summaries });
    expect(days).toMatchObject({ certainty: 'possible' });
    expect(days!.text).toContain('On one of the days judged the fall is too near to 0.30 bar');
  });

  it('weekend days are waited for over weekdays', () => {
    // Sunday evening: the next three weekend days are Saturday, Sunday and the Saturday after: 6, 7 and 13 days on.
    const { open, moreDays } = asked({ mornings: 'SSSSSSS' });
    expect(open.map(plain)).toContain(
      'Two of two weekend mornings sagged; two fell so far in the morning only and none at midday (11:00 to 17:00) only, which chance alone gives 25.0 % of the time (McNemar’s exact test): three more weekend days like these give a firm statement, within 13 days of logging.',
    );
    expect(moreDays).toBe(13);
  });

  it('says where logging alone will hardly settle it', () => {
    const { open, moreDays, logging } = asked({ mornings: 'S---S-----S----', middays: '-S---S-----S---' });
    expect(open.some((text) => text.includes('logging alone will hardly settle whether that is chance'))).toBe(true);
    expect(moreDays).toBe(0);
    expect(logging).toEqual({
      longEnough: true,
      text: 'The log is long enough: more days would hardly settle what is open.',
    });
  });

  it.each([
    [
      '?',
      'No weekday morning or evening could be judged yet: five more weekdays without one tell that the street sags on fewer than half of them, within seven days of logging.',
    ],
    [
      '-',
      'No sag was seen, with one weekday morning and evening judged: four more weekdays without one tell that the street sags on fewer than half of them, within four days of logging.',
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
    const { moreDays, open, logging } = asked({ mornings: '?????????', evenings: '?????????' });
    expect(moreDays).toBe(0);
    expect(logging).toEqual({
      longEnough: false,
      text: 'More days like these would settle little: none of 18 mornings and evenings could be judged. See first that readings come and can be used.',
    });
    expect(open.some((text) => text.includes('will hardly change that'))).toBe(true);
  });

  it('a window that isn’t over is no open question', () => {
    const known = seenSupply({ mornings: '-----', evenings: '----?' });
    const { span } = known;
    const until = (endMs: number) => openQuestions({ ...known, span: { ...span, endMs } }).open;
    const told =
      'For one morning or evening it can’t be told whether the street sagged: too few readings of those hours, or of the night before, can be used.';
    expect(until(span.endMs)).toContain(told);
    // Friday at 18:00, an hour into the evening.
    expect(until(span.endMs - 6 * 3_600_000)).not.toContain(told);
  });
});

describe('weekdays against weekends', () => {
  // Fisher's exact test, two-sided. 10 of 10 and 1 of 4: C(10,10)·C(4,1)/C(14,11) = 4/364 and C(10,7)·C(4,4)/364 above it.
  it('are said to differ once the test says so', () => {
    const all = stated({ mornings: 'SSSSSS-SSSSS--' }).map(({ text }) => plain(text));
    expect(all).toContain(
      'Weekdays and weekend days differ in the morning: ten of ten weekdays and one of four weekend days sagged. Were all days alike, chance alone would give so great a difference 1.1 % of the time (Fisher’s exact test).',
    );
  });

  it('else it is open, with the weeks that would tell', () => {
    // 4 of 5 and none of 2: C(5,4)·C(2,0)/C(7,4) = 5/35; twice as many, 8 of 10 and none of 4: C(10,8)/C(14,8) = 45/3003.
    const { open, moreDays } = asked({ mornings: 'SSS-S--' });
    expect(open.map(plain)).toContain(
      'Whether weekdays and weekend days differ in the morning can’t be told: four of five weekdays and none of two weekend days sagged, and were all days alike, chance alone would give so great a difference 14.3 % of the time (Fisher’s exact test); one more week like these would tell.',
    );
    expect(moreDays).toBe(7);
    expect(
      asked({ mornings: 'SSSSSSS' }).open.some((text) =>
        text.endsWith('four more weeks like these will hardly tell either.'),
      ),
    ).toBe(true);
  });

  it('are not compared by one sagging day, nor without days of both kinds', () => {
    for (const mornings of ['S------', 'SSSSS', '?????SS'])
      expect(JSON.stringify([asked({ mornings }), stated({ mornings })])).not.toContain('Fisher');
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

it('low periods that end on both sides of midnight have an end between the two', () => {
  const low = (day: number, hours: number) => {
    const startMs = MONDAY_MS + day * 86_400_000 + 7 * 3_600_000;
    return { startMs, endMs: startMs + hours * 3_600_000, minBar: 0.3, certain: true };
  };
  const { text } = stated({ mornings: 'SS', lowestBar: 0.3, lowSupply: [low(0, 16.5), low(1, 17)] })[0]!;
  expect(text).toContain(
    'On two of two weekday mornings the street’s pressure fell below 0.69 bar, usually from 07:00 to 23:45.',
  );
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
    const wait = (mornings: string) => {
      const { summaries, comparison } = seenSupply({ mornings, evenings: '' });
      const asked = summaries.filter(({ present, days }) => present > 0 || days === 'weekdays');
      return {
        firm: Math.max(...asked.map((summary) => calendarDays(summary, 7) ?? Number.POSITIVE_INFINITY)),
        // One sagging day more makes two, which are compared for the first time.
        compared: comparison[0] ? (comparison[0].weeksToTell ?? Number.POSITIVE_INFINITY) : Number.POSITIVE_INFINITY,
      };
    };
    for (let week = 0; week < 2 ** 7; week++) {
      const days = [...week.toString(2).padStart(7, '0')].map((bit) => (bit === '1' ? 'S' : '-')).join('');
      let before = wait(days);
      for (let weeks = 2; weeks <= 4; weeks++) {
        const now = wait(days.repeat(weeks));
        expect(now.firm, `${days}, ${weeks} weeks`).toBeLessThanOrEqual(before.firm);
        expect(now.compared, `${days}, ${weeks} weeks`).toBeLessThanOrEqual(before.compared);
        before = now;
      }
    }
  });

  it('never asks for more than four weeks', () => {
    fc.assert(
      fc.property(week, week, (mornings, evenings) => {
        expect(asked({ mornings, evenings }).moreDays).toBeLessThanOrEqual(LONGEST_WAIT_DAYS);
      }),
    );
  });
});
