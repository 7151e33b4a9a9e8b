import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  addressOf,
  keepNear,
  LONGEST_SPAN_MS,
  type Page,
  panSpan,
  readAddress,
  SHORTEST_SPAN_MS,
  type SpanChoice,
  spanForKey,
  zoomSpan,
} from '../../ui/view-state.ts';

function read(address: string): Page {
  const url = new URL(address, 'http://127.0.0.1:8080');
  return readAddress(url.pathname, url.search);
}

const id = fc.stringMatching(/^[a-z0-9_-]{1,64}$/);
const instant = fc.integer({ min: Date.UTC(2000, 0, 1), max: Date.UTC(2090, 0, 1) });
const span: fc.Arbitrary<SpanChoice> = fc.oneof(
  fc
    .tuple(instant, fc.integer({ min: 1, max: LONGEST_SPAN_MS }))
    .map(([fromMs, length]) => ({ fromMs, toMs: fromMs + length })),
  fc.integer({ min: SHORTEST_SPAN_MS, max: LONGEST_SPAN_MS }).map((lastMs) => ({ lastMs })),
);
const maybe = <T>(arbitrary: fc.Arbitrary<T>) => fc.option(arbitrary, { nil: undefined });

describe('addresses', () => {
  it('read back to the page that they were made from', () => {
    const pages: fc.Arbitrary<Page> = fc.oneof(
      fc.constant({ name: 'sites' as const }),
      fc.constant({ name: 'loggers' as const }),
      id.map((siteId) => ({ name: 'site' as const, siteId })),
      id.map((siteId) => ({ name: 'site-loggers' as const, siteId })),
      id.filter((loggerId) => loggerId !== 'new').map((loggerId) => ({ name: 'logger' as const, loggerId })),
      maybe(id).map((siteId) => ({ name: 'new-logger' as const, siteId })),
      fc.record({ name: fc.constant('letter' as const), siteId: id, span: maybe(span) }),
      fc.record({
        name: fc.constant('chart' as const),
        siteId: id,
        loggerId: maybe(id),
        span: maybe(span),
        finding: maybe(id),
      }),
    );
    fc.assert(
      fc.property(pages, (page) => {
        expect(read(addressOf(page))).toEqual(page);
      }),
    );
  });

  it('hold the span as readable times in UTC', () => {
    const page: Page = {
      name: 'chart',
      siteId: 'row',
      span: { fromMs: Date.UTC(2026, 4, 4), toMs: Date.UTC(2026, 4, 5) },
      finding: 'low-1777874400',
    };
    expect(addressOf(page)).toBe(
      '/sites/row/chart?from=2026-05-04T00:00:00Z&to=2026-05-05T00:00:00Z&finding=low-1777874400',
    );
  });

  it.each([
    ['an end before the start', '/sites/row/chart?from=2026-05-05T00:00:00Z&to=2026-05-04T00:00:00Z'],
    ['no time at all', '/sites/row/chart?from=yesterday&to=today'],
    ['a start alone', '/sites/row/chart?from=2026-05-05T00:00:00Z'],
    ['a negative length', '/sites/row/chart?last=-5'],
  ])('with %s give the usual span', (_claim, address) => {
    expect(read(address)).toMatchObject({ name: 'chart', span: undefined });
  });

  it('never ask for more than the findings are served for', () => {
    const page = read('/sites/row/chart?from=2020-01-01T00:00:00Z&to=2026-01-01T00:00:00Z');
    const chosen = page.name === 'chart' && page.span && 'fromMs' in page.span ? page.span : undefined;
    expect(chosen!.toMs - chosen!.fromMs).toBe(LONGEST_SPAN_MS);
  });

  it.each(['//elsewhere.example', 'https://elsewhere.example/', '/\\elsewhere.example', 'javascript:alert(1)'])(
    'lead nowhere else after signing in (%s)',
    (next) => {
      expect(read(`/sign-in?next=${encodeURIComponent(next)}`)).toEqual({ name: 'sign-in', next: '/' });
    },
  );

  it.each(['/sites/', '/sites/a/b/c', '/%E0%A4%A', '/nothing'])('that are unknown say so (%s)', (path) => {
    expect(readAddress(path, '').name).toBe('unknown');
  });
});

describe('moving a span', () => {
  const fixed = fc
    .tuple(instant, fc.integer({ min: SHORTEST_SPAN_MS, max: LONGEST_SPAN_MS }))
    .map(([fromMs, length]) => ({ fromMs, toMs: fromMs + length }));

  it('zooms about the point it is told, within the shortest and the longest', () => {
    fc.assert(
      fc.property(
        fixed,
        fc.double({ min: 0.01, max: 100, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (given, factor, share) => {
          const about = given.fromMs + share * (given.toMs - given.fromMs);
          const next = zoomSpan(given, factor, about);
          const length = next.toMs - next.fromMs;
          expect(length).toBeGreaterThanOrEqual(SHORTEST_SPAN_MS);
          expect(length).toBeLessThanOrEqual(LONGEST_SPAN_MS);
          expect(Math.abs((about - next.fromMs) / length - share)).toBeLessThan(0.001);
        },
      ),
    );
  });

  it('keeps its length when it moves along, and half of it over the log', () => {
    fc.assert(
      fc.property(fixed, fc.double({ min: -20, max: 20, noNaN: true }), (given, share) => {
        const length = given.toMs - given.fromMs;
        const near = keepNear(panSpan(given, share), given);
        expect(near.toMs - near.fromMs).toBe(length);
        expect(Math.min(near.toMs, given.toMs) - Math.max(near.fromMs, given.fromMs)).toBeGreaterThanOrEqual(
          Math.floor(length / 2) - 1,
        );
      }),
    );
  });

  it('knows the keys', () => {
    const given = { fromMs: 0, toMs: 100_000 };
    expect(spanForKey('ArrowRight', given)).toEqual({ fromMs: 20_000, toMs: 120_000 });
    expect(spanForKey('+', given)).toEqual({ fromMs: 25_000, toMs: 75_000 });
    expect(spanForKey('Tab', given)).toBeUndefined();
  });
});
