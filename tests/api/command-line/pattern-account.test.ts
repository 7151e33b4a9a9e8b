import { describe, expect, it } from 'vitest';
import { patternAccount } from '../../../api/command-line/pattern-account.ts';
import { patternOf, sagging } from '../figures/a-pattern.ts';
import { sampleLetter } from '../letter/sample-letter.ts';

const { findings } = sampleLetter(2);

describe('how the week goes, on a terminal', () => {
  it('is the share of time below the threshold and the lowest hours', () => {
    const lines = patternAccount({ ...findings, pattern: patternOf(14, sagging) });
    expect(lines.map((line) => line.replaceAll('\u00a0', ' '))).toEqual([
      'How the week goes',
      'Standing pressure was below 0.70 bar for 6.0 % of the time.',
      'Lowest hours: on weekdays from 07 to 09 o’clock, 0.50 bar against 1.50 bar over the day (10 days).',
    ]);
  });

  it('is nothing where there is too little, or no standing pressure', () => {
    expect(patternAccount({ ...findings, pattern: patternOf(0.5, sagging) })).toEqual([]);
    expect(patternAccount(findings)).toEqual([]);
  });
});
