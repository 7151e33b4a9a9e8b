import { describe, expect, it } from 'vitest';
import { durationFigure, durationRows } from '../../../api/figures/duration-figure.ts';
import { overlayFigure } from '../../../api/figures/overlay-figure.ts';
import {
  belowSentence,
  lowestHoursSentence,
  overlayCaption,
  percent,
  tooLittleWords,
  weekCaption,
} from '../../../api/figures/pattern-words.ts';
import { weekFigure } from '../../../api/figures/week-figure.ts';
import { LONDON, onWeekdays, patternOf, sagging } from './a-pattern.ts';

const plain = (text: string) => text.replaceAll('\u00a0', ' ');

describe('the curve', () => {
  it('rises from the lowest to the highest and crosses the threshold at the share below it', () => {
    // Ten of 168 hours at 0.5 bar.
    const figure = durationFigure(patternOf(7, sagging, { sagging: onWeekdays }));
    expect(figure.points[0]).toEqual({ share: 0, bar: 0.5 });
    expect(figure.points.at(-1)).toEqual({ share: 1, bar: 1.5 });
    for (const [index, point] of figure.points.entries()) {
      const before = figure.points[index - 1];
      if (before) expect(point.share > before.share && point.bar >= before.bar).toBe(true);
      if (Math.abs(point.share - 10 / 168) > 0.01) expect(point.bar < 0.7).toBe(point.share < 10 / 168);
    }
    expect(figure.belowShare).toBeCloseTo(10 / 168, 9);
    expect(figure.topBar).toBe(2);
    expect(durationRows(figure).map(({ share, bar }) => [Math.round(share * 100), bar])).toEqual([
      [0, 0.5],
      [1, 0.5],
      [5, 0.5],
      [10, 1.5],
      [25, 1.5],
      [50, 1.5],
      [75, 1.5],
      [90, 1.5],
      [100, 1.5],
    ]);
  });
});

describe('the days over one another', () => {
  it('stand at the middle of their quarter hours, tell the weekend, and mark the lowest of what sags', () => {
    const { days, bands } = overlayFigure(patternOf(7, sagging, { sagging: onWeekdays }));
    expect(bands).toEqual([]);
    expect(days.map(({ weekend }) => weekend)).toEqual([false, false, false, false, false, true, true]);
    expect(days.map((day) => day.sagging)).toEqual([true, true, true, true, true, false, false]);
    const monday = days[0]!;
    expect(monday.pieces).toHaveLength(1);
    expect(monday.pieces[0]![0]).toEqual({ hour: 0.125, bar: 1.5 });
    expect(monday.marks).toEqual([{ hour: 7.125, bar: 0.5 }]);
    // From 07:00 to 09:00, and the quarter hour at each side.
    expect(monday.sagPieces).toHaveLength(1);
    expect(monday.sagPieces[0]!.map(({ hour }) => hour)).toEqual(Array.from({ length: 10 }, (_, k) => 6.875 + k / 4));
    expect(days[6]!.sagPieces).toEqual([]);
  });

  it('break where nothing is known', () => {
    const { days } = overlayFigure(patternOf(2, (minute) => (minute >= 600 && minute < 660 ? Number.NaN : 2)));
    expect(days[0]!.pieces.map((piece) => piece.length)).toEqual([40, 52]);
  });

  it('of a long log are bands, one of weekdays and one of the weekend', () => {
    const figure = overlayFigure(patternOf(70, sagging, { sagging: onWeekdays }));
    expect(figure.days).toEqual([]);
    expect(figure.bands.map(({ weekend, countDays, saggingDays }) => [weekend, countDays, saggingDays])).toEqual([
      [false, 50, 50],
      [true, 20, 0],
    ]);
    expect(figure.bands[0]!.middle[0]!.find(({ hour }) => hour === 8.125)!.bar).toBe(0.5);
  });
});

describe('in words', () => {
  const pattern = patternOf(14, sagging, { sagging: onWeekdays });

  it('tells the share below the threshold, what the sensor leaves open, and what isn’t known', () => {
    expect(plain(belowSentence(pattern.below!))).toBe('Standing pressure was below 0.70 bar for 6.0 % of the time.');
    const unsure = patternOf(7, (minute, day) => (day > 4 ? Number.NaN : minute < 60 ? 0.68 : minute < 120 ? 0.73 : 2));
    expect(plain(belowSentence(unsure.below!))).toBe(
      'Standing pressure was below 0.70 bar for 4.2 % of the time; with the sensor’s ±0.04 bar (k = 2) it may be 0 % to 8.3 %. It is known for 71 % of the log, and the shares are of that.',
    );
    expect(plain(belowSentence(patternOf(2, () => 2).below!))).toBe('Standing pressure was never below 0.70 bar.');
    expect(plain(belowSentence(patternOf(2, () => 0.2).below!))).toBe(
      'Standing pressure was below 0.70 bar all the time.',
    );
  });

  it('names the lowest hours, or that none stands out', () => {
    expect(plain(lowestHoursSentence(pattern))).toBe(
      'Lowest hours: on weekdays from 07 to 09 o’clock, 0.50 bar against 1.50 bar over the day (10 days).',
    );
    expect(lowestHoursSentence(patternOf(7, () => 2))).toContain('No hour of the day stands out');
  });

  it('says how many days and hours a picture stands on', () => {
    expect(weekCaption(LONDON, weekFigure(pattern, 60))).toContain('each from 2 days.');
    const gappy = patternOf(8, (minute, day) => (day === 3 && minute < 60 ? Number.NaN : 2));
    expect(weekCaption(LONDON, weekFigure(gappy, 60))).toContain(
      'each from 1 to 2 days. 1 of the week’s 168 hours is not known.',
    );
    expect(overlayCaption(pattern, LONDON)).toContain('14 days over one another');
    expect(overlayCaption(pattern, LONDON)).toContain('10 on weekdays, 4 at the weekend; 10 with a sag.');
    expect(overlayCaption(patternOf(70, sagging, { sagging: onWeekdays }), LONDON)).toContain(
      '50 weekdays, 50 of them with a sag; 20 weekend days, none of them with a sag.',
    );
  });

  it('tells the day of 25 hours', () => {
    // Clock changes: Directive 2000/84/EC, last Sunday of October at 01:00 UTC.
    const autumn = patternOf(4, () => 2, { startMs: Date.parse('2026-10-23T23:00:00Z') });
    expect(overlayCaption(autumn, LONDON)).toContain('On the day the clock changes');
    expect(overlayCaption(pattern, LONDON)).not.toContain('the clock changes');
  });

  it('says in a sentence what there is too little for', () => {
    expect(Object.keys(tooLittleWords(patternOf(0.25, () => 2)))).toEqual(['week', 'duration', 'overlays']);
    expect(Object.keys(tooLittleWords(patternOf(2, () => 2)))).toEqual(['week']);
    expect(tooLittleWords(pattern)).toEqual({});
  });

  it('rounds no share to none or all', () => {
    expect([0, 0.0004, 0.041, 0.104, 0.5, 0.955, 0.9996, 1].map((share) => plain(percent(share)))).toEqual([
      '0 %',
      'under 0.1 %',
      '4.1 %',
      '10 %',
      '50 %',
      '95.5 %',
      'over 99.9 %',
      '100 %',
    ]);
  });
});
