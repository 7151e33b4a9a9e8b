import { describe, expect, it } from 'vitest';
import {
  type AnalysisSite,
  PUMP_STATES,
  type PumpCurveCheck,
  type PumpState,
} from '../../../../api/analysis/findings.ts';
import { stateStatements } from '../../../../api/analysis/pump/state-statements.ts';
import { toldStates } from '../../../../api/analysis/pump/told-states.ts';
import { wearQuestion, wearSteps } from '../../../../api/analysis/pump/wear-steps.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

const SITE: AnalysisSite = {
  ...OUTLET_SITE,
  timeZone: 'Europe/London',
  pump: { allowedHours: [6, 22], mostStartsPerHour: 11.5, startsLimitSource: 'NEMA MG 10, 2-pole, 2 hp' },
};
const LEVELS = [{ fromMs: 0, toMs: Number.POSITIVE_INFINITY, levels: { cutInBar: 2, cutOutBar: 3.5 } }];
const NOTHING_KNOWN = { curve: false, inlet: false, flow: false, channel: false, check: undefined };

function state(kind: PumpState['kind'], value = 1.2, start = '2026-05-04T10:00:00Z'): PumpState {
  return { kind, start, end: new Date(Date.parse(start) + 1_800_000).toISOString(), value, reason: 'What was seen.' };
}

function check(verdict: PumpCurveCheck['verdict'], headShare: number): PumpCurveCheck {
  return { points: 40, headShare, interval: [headShare - 0.02, headShare + 0.02], verdict };
}

describe('a pump’s states as they are told', () => {
  it.each(PUMP_STATES)('%s comes with its rule, what to do next, and the cautions last', (kind) => {
    const [told] = toldStates([state(kind)], LEVELS, SITE, { ...NOTHING_KNOWN, channel: true });
    expect(told!.rule).toMatch(/ (min|s|h|hours|hour)\b/);
    expect(told!.nextSteps!.length).toBeGreaterThan(1);
    // Cautions of the trade: common practice, no source.
    expect(told!.nextSteps!.at(-1)).toMatch(/isolate it electrically and hydraulically.*licensed people/s);
    expect(told!.certainty).toBe('certain');
  });

  it('names the limit with where it stands, and counts starts as starts', () => {
    const states = toldStates(
      [
        state('outside_hours', 19, '2026-05-03T22:00:00Z'),
        state('outside_hours', 3, '2026-05-05T02:00:00Z'),
        state('too_many_starts', 15),
      ],
      LEVELS,
      SITE,
      NOTHING_KNOWN,
    );
    const said = stateStatements(states, SITE).map(({ text }) => text);
    expect(said[0]).toBe(
      'The pump started 22 times outside its allowed hours, from 6 to 22, in two spells, last on 5 May 2026, 03:00.',
    );
    expect(said[1]).toContain('more often in an hour than the 11.5 set for it (NEMA MG 10, 2-pole, 2 hp)');
    expect(said[1]).toContain('15 times in the worst hour');
    expect(states[2]!.rule).toContain('11.5 an hour, by NEMA MG 10');
    // A count of starts has no level of the switch beside it.
    expect(states[2]).not.toHaveProperty('cutInBar');
  });

  it('without the pump’s channel says that a low pressure has two accounts, and that a channel would tell', () => {
    const [told] = toldStates([state('did_not_start', 0.4)], LEVELS, SITE, NOTHING_KNOWN);
    expect(told).toMatchObject({ certainty: 'possible', cutInBar: 2, cutOutBar: 3.5 });
    expect(told!.nextSteps![0]).toMatch(/add a channel that says when it runs/);
    const [sure] = toldStates([state('did_not_start', 0.4)], LEVELS, SITE, { ...NOTHING_KNOWN, channel: true });
    expect(sure!.nextSteps!.join(' ')).not.toMatch(/add a channel/);
    expect(stateStatements([told!], SITE)[0]!.certainty).toBe('possible');
  });
});

describe('worn, or asked for too much', () => {
  it('names what is missing of curve, inlet and flow, and what can be measured without them', () => {
    const steps = wearSteps({ ...NOTHING_KNOWN, inlet: true });
    expect(steps[0]).toMatch(/the maker’s curve.*and the flow, from a meter/);
    expect(steps[0]).not.toMatch(/second transducer/);
    expect(steps[1]).toMatch(/bucket.*read the pressure before and after the pump/);
    expect(wearQuestion({ ...NOTHING_KNOWN, inlet: true })).toMatch(/isn’t settled: the maker’s curve/);
  });

  it('with all three asks for steady draws, until the curve has told', () => {
    const all = { ...NOTHING_KNOWN, curve: true, inlet: true, flow: true };
    expect(wearSteps(all)[0]).toMatch(/run evenly for a minute, in 3 runs or more: 20 readings/);
    expect(wearQuestion({ ...all, check: check('cannot_tell', 0.9) })).toMatch(/too few runs at a steady flow/);
    for (const [verdict, words, next] of [
      ['on_its_curve', /lifts 98 %.*so more was drawn/, /outlets ran together/],
      ['below_its_curve', /lifts 98 %.*worn, clogged/, /strainer.*valves before and after/],
    ] as const) {
      const known = { ...all, check: check(verdict, 0.98) };
      const [told] = toldStates([state('runs_on')], LEVELS, SITE, known);
      expect(told!.reason).toMatch(words);
      expect(told!.nextSteps!.join(' ')).toMatch(next);
      expect(told!.nextSteps!.join(' ')).not.toMatch(/To tell a worn pump/);
      expect(wearQuestion(known)).toBeUndefined();
    }
  });
});
