import { describe, expect, it } from 'vitest';
import type { Cycling, CyclingCause, PumpStart } from '../../../../api/analysis/findings.ts';
import { cyclingDays } from '../../../../api/analysis/pump/cycling-days.ts';

const MINUTE = 60_000;
const at = (ms: number): string => new Date(ms).toISOString();

/** Starts `everyMs` apart and the episode that they make. */
function spell(from: string, count: number, everyMs: number, kind: Cycling['kind'], causes: readonly CyclingCause[]) {
  const startMs = Date.parse(from);
  const starts: PumpStart[] = Array.from({ length: count }, (_, k) => ({
    start: at(startMs + k * everyMs),
    stop: at(startMs + k * everyMs + 5_000),
    onDemand: kind !== 'no_demand',
  }));
  const episode: Cycling = {
    start: starts[0]!.start,
    end: starts.at(-1)!.stop!,
    kind,
    starts: count,
    startsPerHour: 3_600_000 / everyMs,
    causes,
  };
  return { starts, episode };
}

function days(spells: readonly ReturnType<typeof spell>[], others: readonly PumpStart[] = []) {
  const starts = [...spells.flatMap((one) => one.starts), ...others].sort((a, b) => (a.start < b.start ? -1 : 1));
  return cyclingDays(
    spells.map(({ episode }) => episode),
    starts,
    'Europe/London',
  );
}

describe('cycling day by day', () => {
  it('puts starts on the local day on which they fall, an episode on each that it touches', () => {
    // London is an hour ahead in May: midnight there is 23:00 UTC. Ten starts, 10 min apart, from 22:05.
    const [first, second, ...more] = days([spell('2026-05-04T22:05:00Z', 10, 10 * MINUTE, 'no_demand', ['leak'])]);
    expect(more).toEqual([]);
    expect(first).toEqual({
      day: '2026-05-04',
      kinds: ['no_demand'],
      episodes: 1,
      starts: 6,
      mostStartsPerHour: 6,
      causes: ['leak'],
    });
    expect(second).toMatchObject({ day: '2026-05-05', episodes: 1, starts: 4, mostStartsPerHour: 6 });
  });

  it('counts every start in the worst hour, as the motor does', () => {
    const own = Array.from({ length: 9 }, (_, k) => ({
      start: at(Date.parse('2026-05-04T10:51:00Z') + k * MINUTE),
      onDemand: true,
    }));
    const [day] = days([spell('2026-05-04T10:00:00Z', 6, 10 * MINUTE, 'no_demand', ['leak'])], own);
    expect(day).toMatchObject({ starts: 6, mostStartsPerHour: 15 });
  });

  it('names both kinds of a day with the causes of each, both where they can’t be told apart', () => {
    const [day] = days([
      spell('2026-05-04T01:00:00Z', 20, 8 * MINUTE, 'no_demand', ['leak', 'check_valve']),
      spell('2026-05-04T08:00:00Z', 6, 12_000, 'rapid_on_demand', ['narrow_differential']),
    ]);
    expect(day).toMatchObject({
      kinds: ['no_demand', 'rapid_on_demand'],
      episodes: 2,
      starts: 26,
      causes: ['leak', 'check_valve', 'narrow_differential'],
    });
  });

  it('says at least where the rows are too coarse to count', () => {
    const { episode } = spell('2026-05-04T08:00:00Z', 2, 2 * 3_600_000, 'rapid_on_demand', ['lost_precharge']);
    // Two hours of starts no further apart than 15 s: 480 at least, 240 in an hour.
    const coarse = { ...episode, starts: 480, startsPerHour: 240, startsAtLeast: true };
    const [day] = cyclingDays([coarse], [], 'Europe/London');
    expect(day).toMatchObject({ starts: 480, mostStartsPerHour: 240, startsAtLeast: true });
  });

  it('lists no day without, and leaves what is normal alone', () => {
    expect(days([])).toEqual([]);
    expect(days([spell('2026-05-04T08:00:00Z', 6, 3_600_000, 'normal', [])])).toEqual([]);
  });

  it('keeps a day of 25 hours whole', () => {
    // London's clocks go back on 25 October 2026 at 01:00 UTC (Directive 2000/84/EC).
    const found = days([spell('2026-10-24T23:10:00Z', 100, 15 * MINUTE - 20_000, 'no_demand', ['leak'])]);
    expect(found.map(({ day }) => day)).toEqual(['2026-10-25', '2026-10-26'].slice(0, found.length));
    expect(found[0]!.starts).toBe(100);
  });
});
