import { describe, expect, it } from 'vitest';
import { clockSentence } from '../../ui/pages/clock-sentence.ts';

const clock = { state: 'behind' as const, offsetS: -600, uncertaintyS: 1.2, driftPpm: null, jumps: [] };

describe('what is said of a logger’s clock', () => {
  it('leaves open whether a clock is behind or all that it sends comes late: arrivals show both alike', () => {
    const words = clockSentence({ clock }, 'Europe/London');
    expect(words).toContain('Its clock is some 10 min behind, ± 2 s.');
    expect(words).toContain('all it sends comes 10 min late, which looks the same');
  });

  it('says nothing of late messages where the clock is ahead: none comes before it was sent', () => {
    const words = clockSentence({ clock: { ...clock, state: 'ahead', offsetS: 3600 } }, 'Europe/London');
    expect(words).toContain('Its clock is some 1 h ahead');
    expect(words).not.toContain('late');
  });
});
