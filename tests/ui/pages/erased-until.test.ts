import { describe, expect, it } from 'vitest';
import { erasedInDiary, erasedInFiles, erasedUntilMs } from '../../../ui/pages/erased-until.ts';
import { createSiteTime } from '../../../ui/site-time.ts';

const extent = (samplesFrom: string | null) => ({
  channel: 'pressure' as const,
  first: '2026-04-01T00:00:00Z',
  last: '2026-05-14T12:00:00Z',
  count: 1000,
  samplesFrom,
});

describe('until when single readings were erased', () => {
  it('is nowhere while all of them stand', () => {
    expect(erasedUntilMs([])).toBeUndefined();
    expect(erasedUntilMs([{ extents: [extent(null)] }])).toBeUndefined();
  });

  it('is the latest of all channels and loggers: before it something is missing', () => {
    const loggers = [
      { extents: [extent('2026-05-04T00:00:00Z'), extent(null)] },
      { extents: [extent('2026-05-06T23:00:00Z')] },
    ];
    expect(erasedUntilMs(loggers)).toBe(Date.UTC(2026, 4, 6, 23));
  });

  it('is told in the diary and beside the files by the clock of the house, with what still stands', () => {
    // 23:00 UTC in May is midnight in London (British Summer Time) and 01:00 in Berlin (IANA data).
    const erasedMs = Date.UTC(2026, 4, 6, 23);
    const diary = erasedInDiary(erasedMs, createSiteTime('Europe/London'));
    expect(diary).toMatch(/^Single readings before 7 May 2026, 00:00 were erased by age/);
    expect(diary).toContain('lowest and highest of each of their minutes still stand');
    expect(erasedInFiles(erasedMs, createSiteTime('Europe/Berlin'))).toMatch(/before 7 May 2026, 01:00 were erased/);
  });
});
