import { describe, expect, it } from 'vitest';
import { erasedPart } from '../../../ui/chart/erased-words.ts';
import { createSiteTime } from '../../../ui/site-time.ts';

const time = createSiteTime('Europe/London');
const findings = {
  coverage: {
    expected: 0,
    received: 0,
    validFraction: 0,
    days: [],
    rawErased: [{ start: '2026-05-01T00:00:00Z', end: '2026-05-10T12:00:00Z' }],
  },
};
const span = (from: string, to: string) => ({ fromMs: Date.parse(from), toMs: Date.parse(to) });

describe('what a chart says of single readings that were erased by age', () => {
  it('is said of the whole span where none is left, so that nothing found is not taken for nothing there', () => {
    const part = erasedPart(findings, span('2026-05-03T06:00:00Z', '2026-05-03T07:00:00Z'), time);
    expect(part).toMatchObject({ whole: true });
    expect(part?.words).toMatch(/^The single readings of this span were erased by age/);
  });

  it('names the part of a span by the clock of the site', () => {
    const part = erasedPart(findings, span('2026-05-10T00:00:00Z', '2026-05-11T00:00:00Z'), time);
    expect(part).toMatchObject({ whole: false });
    expect(part?.words).toMatch(/from 10 May 2026, 01:00 to 10 May 2026, 13:00 were erased/);
  });

  it('is nothing where all of the span stands, and while the findings are not there yet', () => {
    expect(erasedPart(findings, span('2026-05-10T12:00:00Z', '2026-05-11T00:00:00Z'), time)).toBeUndefined();
    expect(erasedPart(undefined, span('2026-05-03T06:00:00Z', '2026-05-03T07:00:00Z'), time)).toBeUndefined();
  });
});
