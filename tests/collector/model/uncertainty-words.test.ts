import { describe, expect, it } from 'vitest';
import { plusMinusBar } from '../../../collector/model/uncertainty-words.ts';

describe('an uncertainty in words', () => {
  it('never looks smaller than it is', () => {
    expect(plusMinusBar(0.1143)).toBe('±0.12\u00a0bar');
    expect(plusMinusBar(0.1155)).toBe('±0.12\u00a0bar');
  });
  it('stays where it is round', () => {
    expect(plusMinusBar(0.12)).toBe('±0.12\u00a0bar');
    expect(plusMinusBar(0.1 + 0.02)).toBe('±0.12\u00a0bar');
  });
});
