import type { CyclingCause } from '../findings.ts';

/** The usual cautions before anybody opens anything on a pump: common practice; local rules and makers' papers prevail. */
export const PUMP_CAUTION =
  'Before a pump, vessel or switch is opened: isolate it electrically and hydraulically, prove both, and release the ' +
  'stored pressure. Work on the electrics, and wherever local rules ask for it on the water, is for licensed people.';

const STEP: Record<CyclingCause, string> = {
  leak:
    'With nobody drawing, shut the valve after the pump and its vessel for an hour. If the pressure before that valve ' +
    'then holds, the water goes in the house: look at cisterns, overflows, dripping taps and relief valves. ' +
    'The discharge of a hot-water relief valve can scald: look, don’t touch or turn.',
  check_valve:
    'With nobody drawing and the valve after the pump shut, watch the pressure: if it still falls, and no further than ' +
    'the inlet’s pressure, the check valve passes and wants cleaning or changing. A second transducer before the pump ' +
    'settles it. Until then water that has stood in the house can flow back towards the main (backflow): don’t take the ' +
    'valve out of service without a replacement of the kind that local rules ask for, and tell the supplier if the ' +
    'main itself may be affected.',
  lost_precharge:
    'Have the vessel’s pre-charge checked with the water side drained: a vessel under water pressure shows nothing, and ' +
    'a charged vessel stores energy. Water at its air valve means that the membrane has failed. ' +
    'On a vessel for hot water, let it cool first: what is drained can scald.',
  narrow_differential:
    'Have the switch’s cut-in and cut-out compared with the maker’s setting: a wider band means fewer starts, but the ' +
    'cut-out must stay within the rating of every fitting and the vessel’s pre-charge must suit the cut-in. ' +
    'Under the switch’s cover lie live parts: only a licensed electrician opens it, with the supply proved dead.',
};

/** What to do next to tell the causes apart and to cure them, in words, likeliest first, the cautions last. */
export function nextSteps(causes: readonly CyclingCause[]): readonly string[] {
  return [...causes.map((cause) => STEP[cause]), PUMP_CAUTION];
}
