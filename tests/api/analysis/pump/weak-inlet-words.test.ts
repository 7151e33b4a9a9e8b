import { describe, expect, it } from 'vitest';
import { pumpStatements } from '../../../../api/analysis/pump/pump-statements.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const SPAN = { startMs: Date.parse('2026-05-04T00:00:00Z'), endMs: Date.parse('2026-05-06T00:00:00Z') };

function said(hours: readonly number[]): string {
  const runs = hours.map((hour) => ({
    start: new Date(SPAN.startMs + hour * 3_600_000).toISOString(),
    end: new Date(SPAN.startMs + hour * 3_600_000 + 5_000).toISOString(),
    minBar: 0.2,
  }));
  return pumpStatements([], runs, undefined, [], { ...OUTLET_SITE, timeZone: 'UTC' }, SPAN)[0]!.text;
}

describe('at which hours the inlet was weak', () => {
  it('is a time of day where there is one', () => {
    expect(said([7.1, 7.3, 31.2])).toMatch(/, most of them between 07:00 and 07:\d\d\./);
  });

  it('is no “most of them” where they come at all hours', () => {
    const text = said([1, 7, 13, 19]);
    expect(text).toContain(', at all hours of the day.');
    expect(text).not.toContain('most of them');
  });
});
