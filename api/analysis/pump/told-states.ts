import type { AnalysisSite, Certainty, PumpState } from '../findings.ts';
import { levelsAt } from './pump-states.ts';
import { stateRule } from './state-rules.ts';
import { stateSteps } from './state-steps.ts';
import type { SwitchLevelsSpan } from './switch-levels.ts';
import { type KnownOfPump, settledByCurve } from './wear-steps.ts';

/** States with the rule that told them, their certainty, the switch’s levels at the time, and what to do next. */
export function toldStates(
  states: readonly PumpState[],
  spans: readonly SwitchLevelsSpan[],
  site: AnalysisSite,
  known: KnownOfPump,
): PumpState[] {
  return states.map((state) => {
    const levels = levelsAt(spans, Date.parse(state.start));
    const counts = state.kind === 'too_many_starts' || state.kind === 'outside_hours';
    return {
      ...state,
      reason: state.kind === 'runs_on' ? state.reason + settledByCurve(known.check) : state.reason,
      certainty: certaintyOf(state, known),
      ...(levels && !counts ? { cutInBar: levels.cutInBar, cutOutBar: levels.cutOutBar } : {}),
      rule: stateRule(state.kind, site),
      nextSteps: stateSteps(state.kind, known),
    };
  });
}

/** Without the pump’s own channel a pressure that stays low has two accounts; a run without a seen stop has, too. */
function certaintyOf({ kind }: PumpState, { channel }: KnownOfPump): Certainty {
  return !channel && (kind === 'did_not_start' || kind === 'runs_on') ? 'possible' : 'certain';
}
