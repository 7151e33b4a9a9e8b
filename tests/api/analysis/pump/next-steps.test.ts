import { describe, expect, it } from 'vitest';
import { CYCLING_CAUSES, type Cycling, type CyclingCause } from '../../../../api/analysis/findings.ts';
import { nextSteps } from '../../../../api/analysis/pump/next-steps.ts';
import { pumpQuestions, pumpStatements } from '../../../../api/analysis/pump/pump-statements.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

/* Cautions of the trade (common practice, no source): dead and depressurised before it is opened, backflow, scalding. */
const OF_ALL: readonly (readonly [string, RegExp])[] = [
  ['isolate the electricity and the water', /isolate it electrically and hydraulically, prove both/],
  ['release the pressure', /release the stored pressure/],
  ['licensed people and local rules', /local rules ask for it.*licensed people/],
];
const OF_CAUSE: Record<CyclingCause, readonly (readonly [string, RegExp])[]> = {
  leak: [
    ['what to do', /shut the valve after the pump/],
    ['scalding at relief valves', /scald/],
  ],
  check_valve: [
    ['what to do', /check valve passes/],
    ['backflow', /flow back towards the main \(backflow\)/],
  ],
  lost_precharge: [
    ['what to do', /pre-charge checked with the water side drained/],
    ['stored energy', /stores energy/],
    ['scalding', /scald/],
  ],
  narrow_differential: [
    ['what to do', /cut-in and cut-out compared/],
    ['live parts', /live parts: only a licensed electrician/],
  ],
};

function episode(causes: readonly CyclingCause[], kind: 'no_demand' | 'rapid_on_demand'): Cycling {
  return {
    start: '2026-03-09T01:00:00Z',
    end: '2026-03-09T04:00:00Z',
    kind,
    starts: 24,
    startsPerHour: 8,
    causes,
    reasons: [],
    nextSteps: nextSteps(causes),
  };
}

describe('what to do next about a cycling pump', () => {
  it.each(CYCLING_CAUSES)('says for %s what to look at, with its cautions', (cause) => {
    const text = nextSteps([cause]).join(' ');
    for (const [what, pattern] of [...OF_CAUSE[cause], ...OF_ALL]) expect(text, what).toMatch(pattern);
  });

  it('takes the causes in order and gives the general cautions once, last', () => {
    const steps = nextSteps(['check_valve', 'leak']);
    expect(steps).toHaveLength(3);
    expect(steps[0]).toMatch(/check valve passes/);
    expect(steps[1]).toMatch(/shut the valve after the pump/);
    expect(steps[2]).toMatch(/^Before a pump, vessel or switch is opened/);
  });

  it('names both where two causes can’t be told apart, and what would tell', () => {
    const span = { startMs: Date.parse('2026-03-08T00:00:00Z'), endMs: Date.parse('2026-03-10T00:00:00Z') };
    const both = [episode(['leak', 'check_valve'], 'no_demand')];
    const [statement] = pumpStatements(both, [], undefined, [], OUTLET_SITE, span);
    expect(statement!.text).toMatch(/a leak or a dripping outlet.*or else to a check valve.*can’t settle which/);
    expect(statement!.certainty).toBe('possible');
    expect(pumpQuestions(both, true)[0]).toMatch(/second transducer before the pump, or an hour with the valve/);
    expect(pumpQuestions([episode(['leak'], 'no_demand')], true)).toEqual([]);
  });

  it.each(CYCLING_CAUSES)('states %s alone as certain', (cause) => {
    const span = { startMs: Date.parse('2026-03-08T00:00:00Z'), endMs: Date.parse('2026-03-10T00:00:00Z') };
    const [statement] = pumpStatements([episode([cause], 'no_demand')], [], undefined, [], OUTLET_SITE, span);
    expect(statement!.certainty).toBe('certain');
    expect(statement!.text).toMatch(/about 8 an hour/);
  });
});
