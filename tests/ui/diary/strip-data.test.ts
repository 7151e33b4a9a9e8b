import { describe, expect, it } from 'vitest';
import { dayEntries } from '../../../ui/diary/day-entries.ts';
import { commonScaleBar, dayStrip, placeOnDay } from '../../../ui/diary/strip-data.ts';
import { createSiteTime } from '../../../ui/site-time.ts';
import { findingsOver, lowPeriod } from './a-day.ts';

// Clock changes: Directive 2000/84/EC, last Sundays of March and October at 01:00 UTC.
const time = createSiteTime('Europe/London');
const at = (text: string) => Date.parse(text);

describe('where times stand on a strip', () => {
  it.each([
    ['summer', '2026-05-04T06:00:00Z', 7],
    ['winter', '2026-12-04T07:00:00Z', 7],
    ['after the spring change', '2026-03-29T06:00:00Z', 7],
    ['after the autumn change', '2026-10-25T07:00:00Z', 7],
  ])('07:00 stands under 07:00 in %s', (_claim, instant, hour) => {
    const day = time.dayOf(at(instant));
    const [span] = placeOnDay([{ fromMs: at(instant), toMs: at(instant) + 60_000 }], day, time);
    expect(span?.fromHour).toBeCloseTo(hour, 10);
  });

  it('an interval over the repeated hour is drawn twice, over the skipped one in two pieces', () => {
    const autumn = placeOnDay(
      [{ fromMs: at('2026-10-25T00:00:00Z'), toMs: at('2026-10-25T02:00:00Z') }],
      time.dayOf(at('2026-10-25T12:00:00Z')),
      time,
    );
    expect(autumn).toEqual([
      { fromHour: 1, toHour: 2 },
      { fromHour: 1, toHour: 2 },
    ]);
    const spring = placeOnDay(
      [{ fromMs: at('2026-03-29T00:30:00Z'), toMs: at('2026-03-29T01:30:00Z') }],
      time.dayOf(at('2026-03-29T12:00:00Z')),
      time,
    );
    expect(spring).toEqual([
      { fromHour: 0.5, toHour: 1 },
      { fromHour: 2, toHour: 2.5 },
    ]);
  });

  it('what reaches over midnight is cut at it', () => {
    const day = time.dayOf(at('2026-05-04T12:00:00Z'));
    const placed = placeOnDay([{ fromMs: at('2026-05-03T12:00:00Z'), toMs: at('2026-05-06T12:00:00Z') }], day, time);
    expect(placed).toEqual([{ fromHour: 0, toHour: 24 }]);
  });
});

describe('a day’s strip', () => {
  const findings = findingsOver('2026-05-03T23:00:00Z', '2026-05-04T23:00:00Z', {
    standing: {
      start: '2026-05-03T23:00:00Z',
      stepS: 3600,
      bar: [2.4, 2.4, null, 2.2, ...Array.from({ length: 20 }, () => 2)],
      sdBar: Array.from({ length: 24 }, () => 0.01),
    },
    lowSupply: [lowPeriod('2026-05-04T06:00:00Z', '2026-05-04T07:00:00Z', 'possible')],
  });
  const [entry] = dayEntries(findings, time);

  it('breaks the line where standing pressure isn’t known', () => {
    const strip = dayStrip(entry!, findings, undefined, time);
    expect(strip.line.map((piece) => piece.length)).toEqual([2, 21]);
    expect(strip.line[0]![0]).toEqual({ hour: 0.5, bar: 2.4 });
  });

  it('marks what is only possible differently', () => {
    const strip = dayStrip(entry!, findings, undefined, time);
    expect(strip.low).toEqual([{ fromHour: 7, toHour: 8, certain: false }]);
  });

  it('shares a scale that holds everything seen, in half bars', () => {
    expect(commonScaleBar(findings, undefined)).toBe(3);
  });
});
