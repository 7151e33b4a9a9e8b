import type { CyclingCause, FaultKind, PumpStateKind } from '../api/analysis/findings.ts';
import type { Position } from '../collector/model/channel.ts';

/** The closed lists of the findings, in the words of the page. */
export const CAUSE_WORDS: Record<CyclingCause, string> = {
  leak: 'a leak or a dripping outlet',
  check_valve: 'a check valve that lets water back',
  lost_precharge: 'a pressure vessel that has lost its charge',
  narrow_differential: 'a switch set too narrow',
};

/** What the pump did, as the end of a sentence. */
export const STATE_WORDS: Record<PumpStateKind, string> = {
  runs_on: 'the pump ran on without reaching its cut-out',
  no_rise: 'the pump ran without lifting the pressure',
  did_not_start: 'the pressure stayed below cut-in and no start lifted it',
  did_not_stop: 'the pump did not stop',
  too_many_starts: 'the pump started more often in an hour than its limit',
  outside_hours: 'the pump started outside its allowed hours',
};

export const FAULT_WORDS: Record<FaultKind, string> = {
  gap: 'nothing was received',
  stuck: 'the reading stood still',
  spike: 'the reading had a spike',
  out_of_range: 'the reading was outside the sensor’s range',
  offset_step: 'the sensor’s zero stepped',
  clock_jump: 'the logger’s clock was wrong',
  duplicate: 'samples came twice',
  late: 'samples came late',
  quantised: 'the sensor reads in coarse steps',
};

export const POSITION_WORDS: Record<Position, string> = {
  incoming: 'at the incoming main',
  pump_inlet: 'before the pump',
  pump_outlet: 'after the pump',
};
