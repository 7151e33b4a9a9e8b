import { describe, expect, it } from 'vitest';
import { fittingFindings } from '../../../../api/analysis/pump/fitting-findings.ts';
import { fittingStatements } from '../../../../api/analysis/pump/fitting-statements.ts';
import { boosterHouse, START_MS } from './booster-house.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const DAY_MS = 86_400_000;
const FITTED_MS = START_MS + 4.4 * DAY_MS;

function readings(gainLpm: readonly number[]) {
  return gainLpm.flatMap((gain, k) => [
    { outlet: `outlet ${k}`, atMs: FITTED_MS - 3_600_000, flowLpm: 4 + k },
    { outlet: `outlet ${k}`, atMs: FITTED_MS + 3_600_000, flowLpm: 4 + k + gain },
  ]);
}

describe('before and after a fitting', () => {
  const log = boosterHouse({ days: 9, intervalS: 10, boosterFromDay: 4.4 });
  const series = { timeMs: log.timeMs, pressureBar: log.pressureBar };

  it('answers for the outlets and for the log, with intervals, and says so', () => {
    const site = { ...OUTLET_SITE, fittedMs: FITTED_MS, outletReadings: readings([3.1, 2.2, 4.0, 2.9, 3.3]) };
    const found = fittingFindings(series, site, [])!;
    expect(found.from).toBe('entered');
    const [flow] = found.outlets;
    expect(flow!.pairs).toHaveLength(5);
    expect(flow!.answer).toBe('worked');
    // Hodges–Lehmann: the median of the Walsh averages of the five gains, worked by hand.
    expect(flow!.gain).toBeCloseTo(3.1, 6);
    const kept = found.logged.find(({ figure }) => figure === 'kept95')!;
    expect([kept.daysBefore, kept.daysAfter]).toEqual([4, 4]);
    expect(kept.answer).toBe('worked');
    expect(kept.interval![0]).toBeGreaterThan(0.5);
    const text = fittingStatements(found, site)
      .map((statement) => statement.text)
      .join(' ');
    expect(text).toMatch(/flow at five outlets changed by 3\.1 l\/min \(95\u00a0%:\u00a0.*: it worked\./);
    expect(text).toMatch(/kept for 95 % of a day went from/);
    // Every outlet stands there with what was read of it.
    expect(text).toContain('outlet 0 from 4.0 to 7.1 l/min (3.1 l/min more); outlet 1 from 5.0 to 7.2 l/min');
  });

  it('says that nothing changed where nothing did, and is silent without a date', () => {
    const bare = boosterHouse({ days: 9, intervalS: 10, boosterFromDay: 99 });
    const site = { ...OUTLET_SITE, fittedMs: FITTED_MS, outletReadings: readings([0.1, -0.1, 0.05, -0.05, 0]) };
    const found = fittingFindings({ timeMs: bare.timeMs, pressureBar: bare.pressureBar }, site, [])!;
    expect(found.outlets[0]!.answer).toBe('no change shown');
    for (const { answer } of found.logged) expect(answer).toBe('no change shown');
    expect(fittingFindings(series, OUTLET_SITE, [])).toBeUndefined();
  });

  it('gives no interval from a day a side, and counts a day as a day', () => {
    const short = boosterHouse({ days: 3, intervalS: 10, boosterFromDay: 1.4 });
    const site = { ...OUTLET_SITE, fittedMs: START_MS + 1.4 * DAY_MS };
    const found = fittingFindings({ timeMs: short.timeMs, pressureBar: short.pressureBar }, site, [])!;
    const kept = found.logged.find(({ figure }) => figure === 'kept95')!;
    expect([kept.daysBefore, kept.daysAfter, kept.answer]).toEqual([1, 1, 'too few readings']);
    expect(kept).not.toHaveProperty('interval');
    const [statement] = fittingStatements(found, site);
    expect(statement!.text).toMatch(/\(one day before the fitting on .*\(one day after\)/);
    expect(statement!.text).not.toMatch(/95\u00a0%/);
    expect(statement!.certainty).toBe('unknown');
  });

  it('takes the time of the fitting from the log where the owner gave none, and pairs outlets read on both sides only', () => {
    const change = { at: new Date(FITTED_MS).toISOString(), kind: 'booster', fromBar: 1, toBar: 2.8 } as const;
    const one = readings([2, 2, 2]).slice(0, 5);
    const found = fittingFindings(series, { ...OUTLET_SITE, outletReadings: one }, [change])!;
    expect(found.from).toBe('log');
    expect(found.outlets[0]!.pairs.map(({ outlet }) => outlet)).toEqual(['outlet 0', 'outlet 1']);
    expect(found.outlets[0]!.answer).toBe('too few readings');
  });
});
