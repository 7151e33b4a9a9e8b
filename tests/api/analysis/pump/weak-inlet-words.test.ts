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

const PULL = {
  runs: 9,
  weakRuns: 0,
  lowestBar: 0.62,
  medianPullBar: 0.21,
  worstPullBar: 0.44,
  hours: [
    { hour: 3, runs: 1, weakRuns: 0, lowestBar: 0.62, medianPullBar: 0.44, worstPullBar: 0.44 },
    { hour: 7, runs: 4, weakRuns: 0, lowestBar: 0.7, medianPullBar: 0.34, worstPullBar: 0.4 },
    { hour: 13, runs: 4, weakRuns: 0, lowestBar: 1, medianPullBar: 0.2, worstPullBar: 0.22 },
  ],
};

describe('how far the pump pulls the main', () => {
  const statements = (pull: typeof PULL | undefined, weak: Parameters<typeof pumpStatements>[1] = []) =>
    pumpStatements([], weak, pull, [], { ...OUTLET_SITE, timeZone: 'UTC' }, SPAN).map(({ text }) => text);

  it('is told though no run was weak, with the hour of at least three runs in which it is deepest', () => {
    expect(statements(PULL)).toEqual([
      'While it runs the pump pulls the main 0.21 bar below its standing pressure (median of 9 runs), by 0.44 bar at most; ' +
        'deepest from 07:00 to 08:00, by 0.34 bar (median of 4 runs). Its inlet never fell below 0.3 bar meanwhile; the lowest was 0.62 bar.',
    ]);
    expect(statements({ ...PULL, hours: PULL.hours.slice(2) })[0]).not.toContain('deepest');
  });

  it('stands with the weak inlet where there is one, and nowhere where no standing pressure was seen', () => {
    const weak = [{ start: '2026-05-04T07:00:00Z', end: '2026-05-04T07:00:05Z', minBar: 0.2 }];
    const [text, ...others] = statements(PULL, weak);
    expect(text).toMatch(/fell below 0\.3 bar.* pulls the main 0\.21 bar .*deepest from 07:00/);
    expect(others).toEqual([]);
    const { medianPullBar: _middle, worstPullBar: _worst, ...unknown } = PULL;
    expect(statements({ ...unknown, hours: [] } as never)).toEqual([]);
    expect(statements(undefined)).toEqual([]);
  });
});
