import type { FindingsDocument } from '../analysis/findings.ts';
import { belowSentence, lowestHoursSentence } from '../figures/pattern-words.ts';

/** How the week goes, in a line or two for a terminal; none where there is too little to say. */
export function patternAccount({ pattern }: FindingsDocument): string[] {
  if (!pattern) return [];
  const lines = [
    ...(pattern.below && pattern.enough.duration ? [belowSentence(pattern.below)] : []),
    ...(pattern.enough.overlays ? [lowestHoursSentence(pattern)] : []),
  ];
  return lines.length === 0 ? [] : ['How the week goes', ...lines];
}
