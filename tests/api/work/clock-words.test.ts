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
    [5.5 * HOUR, '5.5 h'],
    [72 * HOUR, '3 days'],
    [25 * 365.25 * 24 * HOUR, '25 years'],
  ])('%d ms is %s', (ms, words) => expect(durationWords(ms)).toBe(words));
});

describe("a logger's clock in the letter", () => {
  const timeZone = 'Europe/London';
  it('is told where it puts times off by minutes, with its side and its uncertainty', () => {
    const [sentence] = clockSentences({
      timeZone,
      clock: { estimates: [{ offsetMs: HOUR, uncertaintyMs: 1200 }], jumps: [] },
    });
    expect(sentence).toContain('some 1 h ahead, ± 2 s');
    expect(sentence).toContain('about 1 h too late');
  });
  it('jumps are told by the clock at the house', () => {
    const sentences = clockSentences({
      timeZone,
      clock: {
        estimates: [{ offsetMs: 0, uncertaintyMs: 1200 }],
        jumps: [{ atMs: Date.UTC(2026, 4, 4, 14, 2), byMs: HOUR }],
      },
    });
    expect(sentences).toEqual(["The logger's clock jumped ahead by 1 h on 4 May 2026 at 15:02."]);
  });
  it('is left out where it was right or unknown', () => {
    expect(clockSentences({ timeZone, clock: undefined })).toEqual([]);
    expect(clockSentences({ timeZone, clock: { estimates: [], jumps: [] } })).toEqual([]);
    expect(
      clockSentences({ timeZone, clock: { estimates: [{ offsetMs: 90_000, uncertaintyMs: 1200 }], jumps: [] } }),
    ).toEqual([]);
  });
});
