import { describe, expect, it } from 'vitest';
import { PUMP_STATES, type PumpState } from '../../../api/analysis/findings.ts';
import { letterContent } from '../../../api/letter/letter-content.ts';
import { renderHtml } from '../../../api/letter/render-html.ts';
import { sampleLetter } from './sample-letter.ts';

function text(parts: Partial<ReturnType<typeof sampleLetter>['findings']>): string {
  const letter = sampleLetter(7);
  return renderHtml(letterContent({ ...letter, position: 'pump_outlet', findings: { ...letter.findings, ...parts } }))
    .replace(/<style>.*?<\/style>/s, '')
    .replace(/<[^>]+>/g, '\n')
    .replace(/\n+/g, '\n');
}

function state(kind: PumpState['kind'], k = 0): PumpState {
  const startMs = Date.parse('2026-10-20T06:05:00Z') + k * 3_600_000;
  return {
    kind,
    start: new Date(startMs).toISOString(),
    end: new Date(startMs + 1_800_000).toISOString(),
    value: kind === 'outside_hours' || kind === 'too_many_starts' ? 4 : 1.52,
    reason: 'What was seen.',
    certainty: 'possible',
    rule: `The rule of ${kind}.`,
    nextSteps: [`Look at ${kind}.`, 'Isolate it first.'],
  };
}

describe('a pump in the letter', () => {
  it('shows every state with times and figures, its rule, and what to do next once, the cautions last', () => {
    const said = text({ pumpStates: PUMP_STATES.flatMap((kind) => [state(kind), state(kind, 1)]) });
    expect(said).toContain('The pump ran on without reaching its cut-out');
    expect(said.match(/Tue 20 Oct 07:05 to 07:35/g)).toHaveLength(PUMP_STATES.length);
    expect(said).toContain('1.52 bar');
    for (const kind of PUMP_STATES) {
      expect(said).toContain(`Pump. The rule of ${kind}.`);
      expect(said.match(new RegExp(`Look at ${kind}\\.`, 'g'))).toHaveLength(1);
    }
    expect(said.match(/Isolate it first\./g)).toHaveLength(1);
    expect(said.indexOf('Isolate it first.')).toBeGreaterThan(said.indexOf(`Look at ${PUMP_STATES.at(-1)}.`));
  });

  it('tells many spells by day, starts added up, pressures by the lowest', () => {
    const said = text({ pumpStates: Array.from({ length: 20 }, (_, k) => state('outside_hours', k)) });
    expect(said).toContain('The pump started outside its allowed hours, 20 spells by the day on which they begin');
    // From 07:05 on seventeen spells begin on the first day: 68 starts.
    expect(said).toMatch(/Tue 20 Oct\n17\n07:05 to 23:35\n8 h 30 min\n68\npossible/);
  });

  it('shows slow changes with slope and chance, the curve, and the rule of a ranking', () => {
    const said = text({
      pumpTrends: [
        { figure: 'cut_out', firstDay: '2026-09-20', lastDay: '2026-10-20', days: 30, perMonth: -0.14, p: 0.003 },
      ],
      pumpCurve: { points: 40, headShare: 0.72, interval: [0.7, 0.74], verdict: 'below_its_curve' },
      cycling: [
        {
          start: '2026-10-20T01:00:00Z',
          end: '2026-10-20T02:00:00Z',
          kind: 'no_demand',
          starts: 8,
          startsPerHour: 8,
          causes: ['leak'],
          ranking: { rule: 'From 20 to 1 on only the likelier is named.', figures: [] },
        },
      ],
    });
    expect(said).toMatch(/Pressure at which it stops\n30, 2026-09-20 to 2026-10-20\n−0\.14 bar\n0\.003/);
    expect(said).toContain('is 72 % (95 %: 70 % to 74 %, from 40 readings): it is below its curve.');
    expect(said).toContain('Causes of cycling. From 20 to 1 on only the likelier is named.');
  });

  it('shows how far the pump pulls the main, in all and by the hour, beside each weak inlet, and how that is told', () => {
    const figures = { weakRuns: 1, lowestBar: 0.12, medianPullBar: 0.31, worstPullBar: 0.52 };
    const said = text({
      inletPull: {
        ...figures,
        runs: 5,
        hours: [
          { ...figures, hour: 7, runs: 4 },
          { hour: 23, runs: 1, weakRuns: 0, lowestBar: 0.7 },
        ],
      },
      weakInlet: [
        {
          start: '2026-10-20T06:05:00Z',
          end: '2026-10-20T06:06:00Z',
          minBar: 0.12,
          pullBar: 0.52,
          standingBar: 0.64,
          atRangeEnd: true,
        },
      ],
    });
    expect(said).toMatch(/All\n5\n1\n0\.31 bar\n0\.52 bar\n0\.12 bar\n07:00 to 08:00\n4\n1\n/);
    expect(said).toMatch(/23:00 to 24:00\n1\n0\nnot known\nnot known\n0\.70 bar/);
    expect(said).toMatch(/0\.12 bar or less\n0\.64 bar\n0\.52 bar/);
    expect(said).toContain('against the standing pressure of that moment');
  });
});
