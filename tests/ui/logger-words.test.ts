import { describe, expect, it } from 'vitest';
import { placeWords, shortState, stateWords } from '../../ui/pages/logger-words.ts';

describe('a logger’s state', () => {
  it('names times by the clock of its site, summer time included', () => {
    expect(stateWords('silent since 2026-05-04T06:05:00Z', 'Europe/London')).toBe('silent since 4 May 2026, 07:05');
  });

  it('names them in UTC, and says so, where it stands in nobody’s house', () => {
    expect(stateWords('silent since 2026-05-04T06:05:00Z', undefined)).toBe('silent since 4 May 2026, 06:05 UTC');
  });

  it('leaves all else as the server words it', () => {
    expect(stateWords('storing fails: the disk is full', 'Europe/London')).toBe('storing fails: the disk is full');
  });

  it('is cut short where storing fails, which stands in full at the head of the page', () => {
    const failing = { stateCode: 'store_failing' as const, state: 'storing fails: the disk is full' };
    expect(shortState(failing, 'Europe/London')).toBe('storing fails');
  });

  it('names no position where it stands in nobody’s house', () => {
    expect(placeWords({ site: null, position: 'incoming' })).toBe('in nobody’s house');
    expect(placeWords({ site: 'a', position: 'incoming' })).toBe('at the incoming main');
  });
});
