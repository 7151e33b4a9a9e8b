import { describe, expect, it } from 'vitest';
import { clockSentences } from '../../../api/letter/clock-sentences.ts';
import { clockWords } from '../../../api/work/clock-words.ts';
import type { ClockState } from '../../../collector/clocks/clock-book.ts';
import { durationWords } from '../../../collector/model/duration-words.ts';

const NOW = Date.UTC(2026, 4, 4, 15);
const HOUR = 3_600_000;
const state = (offsetMs: number | undefined, jumps: ClockState['jumps'] = []): ClockState => ({
  kind: offsetMs === undefined ? 'unknown' : 'known',
  estimate: offsetMs === undefined ? undefined : { offsetMs, uncertaintyMs: 1200, driftPpm: undefined },
  jumps,
});

describe("a logger's clock in words", () => {
  it.each([
    [state(-4 * 60_000), 0, 'its clock is some 4 min behind'],
    [state(75_000), 0, 'its clock is some 75 s ahead'],
    [state(HOUR), HOUR, 'its clock is some 1 h ahead, as if it sent local time for UTC'],
    [state(HOUR), 0, 'its clock is some 1 h ahead'],
    [
      state(HOUR, [{ atMs: NOW - 58 * 60_000, byMs: HOUR }]),
      undefined,
      'its clock jumped ahead by 1 h at 2026-05-04T14:02:00Z; it is some 1 h ahead',
    ],
    [
      state(500, [{ atMs: NOW - HOUR, byMs: -HOUR }]),
      0,
      'its clock jumped back by 1 h at 2026-05-04T14:00:00Z; it is right now',
    ],
    [state(500, [{ atMs: NOW - 30 * HOUR, byMs: -HOUR }]), 0, undefined],
    [state(20_000), 0, undefined],
    [state(undefined), 0, undefined],
  ])('%#: %j', (clock, zone, words) => expect(clockWords(clock, NOW, zone)).toBe(words));

  it.each([
    [45_000, '45 s'],
    [-240_000, '4 min'],
    [HOUR, '1 h'],
    [5.5 * HOUR, '5 h 30 min'],
    [3_839_000, '1 h 4 min'],
    [59.7 * 60_000, '1 h'],
    [72 * HOUR, '3 days'],
    [25 * 365.25 * 24 * HOUR, '25 years'],
  ])('%d ms is %s', (ms, words) => expect(durationWords(ms)).toBe(words));
});

describe("a logger's clock in the letter", () => {
  const timeZone = 'Europe/London';
  const off = (offsetMs: number) => ({ offsetMs, uncertaintyMs: 1200 });
  const jump = { atMs: Date.UTC(2026, 4, 4, 14, 2), byMs: HOUR };

  it('is told where it puts times off by minutes, with its side and its uncertainty', () => {
    const [sentence, rule] = clockSentences({ timeZone, clock: { estimates: [off(HOUR)], jumps: [] } });
    expect(sentence).toBe("The logger's clock was some 1 h ahead, ± 2 s, so that its times are that much too late.");
    expect(rule).toMatch(/were not shifted/);
  });
  it('is told before and after a jump, each for itself, by the clock at the house', () => {
    const clock = { estimates: [off(-240_000), undefined], jumps: [jump] };
    expect(clockSentences({ timeZone, clock }).slice(0, 2)).toEqual([
      "The logger's clock was some 4 min behind, ± 2 s, so that its times are that much too early.",
      "The logger's clock jumped ahead by 1 h on 4 May 2026 at 15:02.",
    ]);
    const after = clockSentences({ timeZone, clock: { estimates: [off(0), off(HOUR)], jumps: [jump] } });
    expect(after[1]).toMatch(/^After that it was some 1 h ahead/);
  });
  it.each([
    ['unknown', undefined],
    ['never told', { estimates: [undefined], jumps: [] }],
    ['off by less than two minutes', { estimates: [off(90_000)], jumps: [] }],
  ])('is left out where it is %s', (_, clock) => expect(clockSentences({ timeZone, clock })).toEqual([]));
});
