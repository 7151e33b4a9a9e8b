import { bar } from '../evidence/wording.ts';
import type { InletPull } from '../findings.ts';

/** An hour of fewer runs says nothing of what is usual in it. */
const FEWEST_RUNS = 3;
/** Hours nearer than this to all of them aren't told apart: a cheap transducer's second decimal. */
const LEAST_APART_BAR = 0.02;

/** How far the pump pulls the main down, and in which hour most, in a sentence; undefined where that isn't known. */
export function pullWords({ medianPullBar, worstPullBar, runs, hours }: InletPull): string | undefined {
  if (medianPullBar === undefined || worstPullBar === undefined) return undefined;
  const usual = `While it runs the pump pulls the main ${bar(medianPullBar)} below its standing pressure`;
  if (runs === 1) return `${usual} (one run).`;
  const deepest = deepestHour(hours);
  const when =
    deepest && deepest.medianPullBar >= medianPullBar + LEAST_APART_BAR
      ? `; deepest from ${hourSpan(deepest.hour)}, by ${bar(deepest.medianPullBar)} (median of ${deepest.runs} runs)`
      : '';
  return `${usual} (median of ${runs} runs), by ${bar(worstPullBar)} at most${when}.`;
}

/** `07:00 to 08:00`, by the site's clock. */
export function hourSpan(hour: number): string {
  const clock = (at: number): string => `${String(at).padStart(2, '0')}:00`;
  return `${clock(hour)} to ${clock(hour + 1)}`;
}

function deepestHour(hours: InletPull['hours']): { hour: number; runs: number; medianPullBar: number } | undefined {
  let deepest: { hour: number; runs: number; medianPullBar: number } | undefined;
  for (const { hour, runs, medianPullBar } of hours) {
    if (runs < FEWEST_RUNS || medianPullBar === undefined) continue;
    if (!deepest || medianPullBar > deepest.medianPullBar) deepest = { hour, runs, medianPullBar };
  }
  return deepest;
}
