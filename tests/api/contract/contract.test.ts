import { describe, expect, it } from 'vitest';
import { LIVE_FRAME_TYPES, LIVE_VERSION, readLiveFrame } from '../../../api/contract/live-frames.ts';
import { PAYLOADS } from '../../../api/contract/payloads.ts';
import type { RoutePayload } from '../../../api/contract/route-payload.ts';
import { ROUTE_IDS, ROUTES, routePath } from '../../../api/contract/route-table.ts';

describe('the route table', () => {
  it('holds no address twice with one method', () => {
    const all = ROUTE_IDS.map((id) => `${ROUTES[id].method} ${ROUTES[id].path}`);
    expect(new Set(all).size).toBe(all.length);
  });
  it('makes addresses in which a parameter stays one segment', () => {
    expect(routePath('getSite', { id: 'a b/c?d' })).toBe('/api/sites/a%20b%2Fc%3Fd');
    expect(() => routePath('getSite')).toThrow('needs "id"');
  });
  it('names in its path exactly the parameters that are checked', () => {
    for (const id of ROUTE_IDS) {
      const named = [...ROUTES[id].path.matchAll(/\{(\w+)\}/g)].map((match) => match[1]);
      expect(Object.keys((PAYLOADS[id] as RoutePayload).params.shape), id).toEqual(named);
    }
  });
});

describe('requests as the contract writes them', () => {
  it.each([
    ['createSite', { name: '12 Sample Row', timeZone: 'Europe/London' }],
    [
      'createLogger',
      {
        id: 'front-hall',
        site: 'abc',
        position: 'incoming',
        channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] }],
      },
    ],
    [
      'createLogger',
      {
        id: 'volts',
        channels: [
          {
            channel: 'pressure',
            unit: 'V',
            endPoints: [
              { raw: 0.5, bar: 0 },
              { raw: 4.5, bar: 10 },
            ],
          },
        ],
      },
    ],
    ['updateLogger', { site: null }],
    ['updateSite', { thresholds: { lowSupplyBar: 0.7, weakInletBar: 0.3, sagMinDepthBar: 0.3 } }],
  ] as const)('%s takes %o', (id, body) => {
    expect(PAYLOADS[id].body.safeParse(body).error).toBeUndefined();
  });
  it('keys that are not known are left out, so that a newer script still works', () => {
    expect(PAYLOADS.createSite.body.parse({ name: 'A', timeZone: 'UTC', colour: 'blue' })).toEqual({
      name: 'A',
      timeZone: 'UTC',
    });
  });
  it('query parameters that are not known are refused: a misspelt one would silently mean something else', () => {
    expect(PAYLOADS.loggerFindings.query.safeParse({ form: '2026-05-04T00:00:00Z' }).success).toBe(false);
  });
  it.each(['2026-05-04T06:30:00Z', '2026-05-04t06:30:00.125z', '2026-05-04T07:30:00+01:00'])(
    '%s is a time (RFC 3339, 5.6)',
    (from) => {
      expect(PAYLOADS.series.query.safeParse({ from }).success).toBe(true);
    },
  );
  it.each(['2026-05-04', '2026-05-04 06:30:00', '1777876200', '2026-13-04T06:30:00Z', '2026-05-04T06:30:00'])(
    '%s is none',
    (from) => {
      expect(PAYLOADS.series.query.safeParse({ from }).success).toBe(false);
    },
  );
});

describe('live frames', () => {
  it('are read by type and version; what is not known is left alone', () => {
    for (const type of LIVE_FRAME_TYPES)
      expect(readLiveFrame(JSON.stringify({ type, version: LIVE_VERSION }))?.type).toBe(type);
    for (const text of [
      '',
      'null',
      '[]',
      '{"type":"samples"}',
      '{"type":"samples","version":99}',
      '{"type":"later","version":1}',
    ])
      expect(readLiveFrame(text), text).toBeUndefined();
  });
});
