import { describe, expect, it } from 'vitest';
import {
  type ClockRecord,
  clockDuring,
  clockNow,
  noteArrival,
  openClockRecord,
} from '../../../collector/clocks/clock-record.ts';

const S = 1000;
const MINUTE = 60 * S;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const START = Date.UTC(2026, 4, 4);

/** True time less what the device's clock shows is worked out by hand in each case; the record sees only arrivals. */
interface Device {
  readonly forMs: number;
  readonly everyMs: number;
  /** The clock's offset at a true time. */
  offsetMs(atMs: number): number;
  /** How late a message of a true time arrives; undefined: never. */
  delayMs?(atMs: number): number | undefined;
}
function run({ forMs, everyMs, offsetMs, delayMs = () => 100 }: Device, record = openClockRecord()): ClockRecord {
  const sent: { arrivedMs: number; newestMs: number }[] = [];
  for (let atMs = START; atMs < START + forMs; atMs += everyMs) {
    const late = delayMs(atMs);
    if (late !== undefined) sent.push({ arrivedMs: atMs + late, newestMs: atMs + offsetMs(atMs) });
  }
  sent.sort((a, b) => a.arrivedMs - b.arrivedMs);
  for (const message of sent) noteArrival(record, message);
  return record;
}
const within = (record: ClockRecord, offsetMs: number) => {
  const estimate = clockNow(record);
  expect(estimate).toBeDefined();
  expect(Math.abs(estimate!.offsetMs - offsetMs)).toBeLessThanOrEqual(estimate!.uncertaintyMs);
  expect(estimate!.uncertaintyMs).toBeLessThan(3 * S);
  return estimate!;
};
/** Pseudo-random delays up to 1.5 s that repeat: 100 ms at the least, as a house's radio has. */
const jitter = (atMs: number) => 100 + (((atMs / S) * 7919) % 1400);

describe("a logger's clock, against hand figures", () => {
  it.each([
    ['right', 0],
    ['4 min behind', -4 * MINUTE],
    ['17 s ahead', 17 * S],
    ['an hour ahead, local summer time sent as UTC', HOUR],
    ['5 h 30 min ahead', 5.5 * HOUR],
    ['a year behind', -365 * DAY],
  ])('%s', (_, offsetMs) => {
    const record = run({ forMs: 2 * HOUR, everyMs: S, offsetMs: () => offsetMs, delayMs: jitter });
    expect(within(record, offsetMs).driftPpm).toBeUndefined();
    expect(record.jumps).toEqual([]);
  });

  it.each([
    ['every second', S],
    ['every ten minutes', 10 * MINUTE],
  ])('a drift of 100 ppm over ten days, %s: 86.4 s gained', (_, everyMs) => {
    const record = run({
      forMs: 10 * DAY,
      everyMs: Math.max(everyMs, 20 * S),
      offsetMs: (atMs) => (atMs - START) * 100e-6,
      delayMs: jitter,
    });
    const estimate = within(record, 86.4 * S);
    expect(estimate.driftPpm).toBeCloseTo(100, -0.5);
    expect(record.jumps).toEqual([]);
  });

  it('batches of an hour show no skew: the newest time of each is fresh', () => {
    const record = run({ forMs: 3 * DAY, everyMs: HOUR, offsetMs: () => 0, delayMs: jitter });
    within(record, 0);
  });

  it('a buffer sent late after two hours away is neither skew nor jump', () => {
    const away = (atMs: number) => atMs >= START + 3 * HOUR && atMs < START + 5 * HOUR;
    const record = run({
      forMs: 6 * HOUR,
      everyMs: 10 * S,
      offsetMs: () => 0,
      // From five o'clock on the buffer comes at five messages a second, live ones in between.
      delayMs: (atMs) => (away(atMs) ? START + 5 * HOUR - atMs + (atMs - START - 3 * HOUR) / 50 : jitter(atMs)),
    });
    within(record, 0);
    expect(record.jumps).toEqual([]);
  });

  it('a file imported at once, or a buffer alone, tells nothing', () => {
    const record = run({
      forMs: DAY,
      everyMs: MINUTE,
      offsetMs: () => 0,
      delayMs: (atMs) => START + 2 * DAY - atMs + (atMs - START) / 100,
    });
    expect(clockNow(record)).toBeUndefined();
    expect(record.jumps).toEqual([]);
  });

  it.each([
    ['ahead by an hour', HOUR],
    ['back by an hour', -HOUR],
    ['ahead by a minute', MINUTE],
    ['back to 2001', -25 * 365 * DAY],
  ])('a jump %s is told with its time, and the offset is the new one', (_, byMs) => {
    const jumpMs = START + 3 * HOUR;
    const record = run({
      forMs: 4 * HOUR,
      everyMs: 10 * S,
      offsetMs: (atMs) => (atMs >= jumpMs ? byMs : 0),
      delayMs: jitter,
    });
    expect(record.jumps).toHaveLength(1);
    expect(Math.abs(record.jumps[0]!.atMs - jumpMs)).toBeLessThan(20 * S);
    expect(Math.abs(record.jumps[0]!.byMs - byMs)).toBeLessThan(3 * S);
    within(record, byMs);
  });

  it('ahead and back again are two jumps; each stretch of a span has its own offset', () => {
    const [there, back] = [START + 5 * HOUR, START + 11 * HOUR];
    const record = run({
      forMs: 14 * HOUR,
      everyMs: 10 * S,
      offsetMs: (atMs) => (atMs >= there && atMs < back ? HOUR : 0),
    });
    expect(record.jumps.map(({ byMs }) => Math.round(byMs / HOUR))).toEqual([1, -1]);
    const { estimates, jumps } = clockDuring(record, START, START + 14 * HOUR);
    expect(estimates.map((estimate) => Math.round(estimate!.offsetMs / HOUR))).toEqual([0, 1, 0]);
    expect(jumps).toHaveLength(2);
    expect(clockDuring(record, START - DAY, START).estimates).toEqual([undefined]);
  });

  it('one wrong stamp is no jump', () => {
    const record = run({
      forMs: 2 * HOUR,
      everyMs: 10 * S,
      offsetMs: (atMs) => (atMs === START + HOUR ? 20 * HOUR : 0),
    });
    expect(record.jumps).toEqual([]);
    within(record, 0);
  });

  it('a clock that came back wrong after a long silence is believed once nothing fresher was seen for six hours', () => {
    const offMs = (atMs: number) => (atMs >= START + 4 * HOUR ? -20 * MINUTE : 0);
    const away = (atMs: number) => atMs >= START + 3 * HOUR && atMs < START + 4 * HOUR;
    const record = run({
      forMs: 12 * HOUR,
      everyMs: 10 * S,
      offsetMs: offMs,
      delayMs: (atMs) => (away(atMs) ? undefined : 100),
    });
    within(record, -20 * MINUTE);
  });

  it('a record of two months stays small', () => {
    const record = run({ forMs: 60 * DAY, everyMs: MINUTE, offsetMs: () => 0, delayMs: jitter });
    expect(record.points.length).toBeLessThan(500);
  });
});
