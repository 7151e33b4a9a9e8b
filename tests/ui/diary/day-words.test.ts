import { describe, expect, it } from 'vitest';
import type { FindingsDocument } from '../../../api/analysis/findings.ts';
import { dayEntries } from '../../../ui/diary/day-entries.ts';
import { clockChangeWords, dayWords } from '../../../ui/diary/day-words.ts';
import { createSiteTime } from '../../../ui/site-time.ts';
import { findingsOver, lowPeriod, wholeDay } from './a-day.ts';

const time = createSiteTime('Europe/London');

/** Sentences of one whole local day, with plain spaces. */
function words(date: string, parts: Partial<FindingsDocument>): string[] {
  const day = time.dayOf(Date.parse(`${date}T12:00:00Z`));
  const findings = findingsOver(new Date(day.startMs).toISOString(), new Date(day.endMs).toISOString(), parts);
  const [entry] = dayEntries(
    {
      ...findings,
      coverage: { ...findings.coverage, days: [wholeDay(date), ...(parts.coverage?.days ?? [])].slice(-1) },
    },
    time,
  );
  return dayWords(entry!, findings.series.position, time).map((text) => text.replaceAll('\u00a0', ' '));
}

describe('what the diary says of a day', () => {
  it('is one line where nothing is to be told', () => {
    expect(words('2026-05-04', {})).toEqual(['Nothing to tell.']);
  });

  it('tells low supply in the site’s time with its certainty', () => {
    const [text] = words('2026-05-04', { lowSupply: [lowPeriod('2026-05-04T06:05:00Z', '2026-05-04T07:40:00Z')] });
    expect(text).toBe('Standing pressure was below 0.70 bar from 07:05 to 08:40, at the lowest 0.41 bar (certain).');
  });

  it('never calls a day certain where only some of its periods are', () => {
    const [text] = words('2026-05-04', {
      lowSupply: [
        lowPeriod('2026-05-04T06:05:00Z', '2026-05-04T07:40:00Z'),
        lowPeriod('2026-05-04T17:05:00Z', '2026-05-04T17:40:00Z', 'possible'),
      ],
    });
    expect(text).toContain('1 of 2 certain, the rest possible');
  });

  it('tells own draws, and that the supply isn’t blamed for them', () => {
    const draw = { start: '2026-05-04T06:05:00Z', end: '2026-05-04T06:10:00Z', dropBar: 0.3 };
    expect(words('2026-05-04', { draws: [draw] })).toEqual([
      'Nothing to tell. One own draw, not counted against the supply.',
    ]);
  });

  it('leaves out an absent sag and one that can’t be told', () => {
    const sags = [
      { day: '2026-05-04', window: 'morning' as const, state: 'absent' as const },
      { day: '2026-05-04', window: 'evening' as const, state: 'unknown' as const },
    ];
    expect(words('2026-05-04', { sags })).toEqual(['Nothing to tell.']);
  });

  it('tells what is missing rather than dropping it', () => {
    const text = words('2026-05-04', {
      sags: [
        {
          day: '2026-05-04',
          window: 'morning',
          state: 'present',
          start: '2026-05-04T06:00:00Z',
          end: '2026-05-04T07:00:00Z',
          depthBar: 0.6,
        },
      ],
      draws: [{ start: '2026-05-04T12:05:00Z', end: '2026-05-04T12:10:00Z', dropBar: 0.3 }],
      changes: [{ at: '2026-05-04T10:00:00Z', kind: 'supply', fromBar: 3.36, toBar: 2.5 }],
      faults: [{ kind: 'gap', start: '2026-05-04T13:00:00Z', end: '2026-05-04T16:00:00Z' }],
    });
    expect(text).toHaveLength(3);
    expect(text.at(-1)).toBe('From 14:00 to 17:00 nothing was received.');
  });

  it('names a pump’s cycling with the likeliest causes', () => {
    const findings = findingsOver('2026-05-03T23:00:00Z', '2026-05-04T23:00:00Z');
    const text = words('2026-05-04', {
      series: { ...findings.series, position: 'pump_outlet' },
      cycling: [
        {
          start: '2026-05-04T01:00:00Z',
          end: '2026-05-04T05:00:00Z',
          kind: 'no_demand',
          starts: 29,
          startsPerHour: 7.25,
          causes: ['leak', 'check_valve'],
        },
      ],
    });
    expect(text[0]).toBe(
      'The pump started with nobody drawing water from 02:00 to 06:00, 7.3 times an hour, which points to a leak or a dripping outlet or a check valve that lets water back.',
    );
  });

  it('has no exclamation mark and at most three sentences of findings', () => {
    const text = words('2026-05-04', { lowSupply: [lowPeriod('2026-05-04T06:05:00Z', '2026-05-04T07:40:00Z')] });
    expect(text.join(' ')).not.toContain('!');
    expect(text.length).toBeLessThanOrEqual(3);
  });
});

describe('days of a log', () => {
  it('are newest first, each finding on every day that it touches', () => {
    const entries = dayEntries(
      findingsOver('2026-05-03T23:00:00Z', '2026-05-06T23:00:00Z', {
        lowSupply: [lowPeriod('2026-05-04T21:00:00Z', '2026-05-05T01:00:00Z')],
      }),
      time,
    );
    expect(entries.map((entry) => entry.day.date)).toEqual(['2026-05-06', '2026-05-05', '2026-05-04']);
    expect(entries.map((entry) => entry.lowSupply.length)).toEqual([0, 1, 1]);
  });

  it('end where the log ends: what stops at midnight doesn’t touch the next day', () => {
    const entries = dayEntries(
      findingsOver('2026-05-03T23:00:00Z', '2026-05-05T23:00:00Z', {
        faults: [{ kind: 'gap', start: '2026-05-04T20:00:00Z', end: '2026-05-04T23:00:00Z' }],
      }),
      time,
    );
    expect(entries.map((entry) => entry.faults.length)).toEqual([0, 1]);
  });

  it('are none where nothing is logged', () => {
    const nothing = findingsOver('2026-05-03T23:00:00Z', '2026-05-05T23:00:00Z');
    expect(dayEntries({ ...nothing, series: { ...nothing.series, start: null, end: null } }, time)).toEqual([]);
  });

  it.each([
    ['2026-03-28T12:00:00Z', '2026-03-30T12:00:00Z', '2026-03-29', '23 h'],
    ['2026-10-24T12:00:00Z', '2026-10-26T12:00:00Z', '2026-10-25', '25 h'],
  ])('say when the clocks change (%s)', (start, end, date, length) => {
    const entry = dayEntries(findingsOver(start, end), time).find((day) => day.day.date === date)!;
    expect(clockChangeWords(entry, time)?.replaceAll('\u00a0', ' ')).toContain(length);
  });
});
