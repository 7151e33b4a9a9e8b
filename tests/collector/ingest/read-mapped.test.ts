import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mappedReader } from '../../../collector/ingest/read-mapped.ts';
import { type DeviceMapping, mappingFaults } from '../../../collector/model/device-mapping.ts';
import { NOON_MS } from './collector-under-test.ts';

const read = (channels: DeviceMapping['channels'], payload: unknown) =>
  mappedReader({ filter: 'plant/7/state', channels })(
    typeof payload === 'string' ? new TextEncoder().encode(payload) : new TextEncoder().encode(JSON.stringify(payload)),
    NOON_MS,
  );
const one = (payload: unknown, value: string, time?: { pointer: string; form: 'rfc3339' | 'unix_s' | 'unix_ms' }) =>
  read([{ channel: 'pressure', value, time }], payload);

describe("a device's own message", () => {
  it.each([
    [{ p: 1.482 }, '/p', 1.482],
    [{ sensors: [{ v: 7 }, { v: 1.5 }] }, '/sensors/1/v', 1.5],
    [{ 'a/b': { '~': 2 } }, '/a~1b/~0', 2],
    [{ p: '1.482' }, '/p', 1.482],
    ['1.482', '', 1.482],
    [[3, 4], '/1', 4],
  ])('%j read at %j is %d, of the time of arrival', (payload, pointer, value) =>
    expect(one(payload, pointer)).toMatchObject({ accepted: [{ value, atMs: undefined }], refused: [] }),
  );

  it.each([
    ['rfc3339', '2026-05-04T06:31:07Z'],
    ['unix_s', 1_777_876_267],
    ['unix_s', '1777876267'],
    ['unix_ms', 1_777_876_267_000],
    // `date -u -d @1777876267` says Mon May  4 06:31:07 UTC 2026.
  ] as const)('a time as %s: %j', (form, written) =>
    expect(one({ p: 1, t: written }, '/p', { pointer: '/t', form }).accepted[0]?.atMs).toBe(
      Date.UTC(2026, 4, 4, 6, 31, 7),
    ),
  );

  it.each([
    [{ q: 1, t: 2 }, '/p', '/p leads nowhere: the message is an object with q, t and has no p'],
    [{ a: { b: [1] } }, '/a/b/3', '/a/b/3 leads nowhere: what stands at /a/b is a list of 1 entry and has no 3'],
    [{ a: 5 }, '/a/b', '/a/b leads nowhere: what stands at /a is 5 and has no b'],
    [{ p: 'open' }, '/p', 'at /p the value isn\'t a number but "open"'],
    [{ p: null }, '/p', "at /p the value isn't a number but null"],
    [{ p: {} }, '/p', "at /p the value isn't a number but an object"],
    ['on fire', '/p', "the payload isn't JSON, so no pointer can be followed"],
    ['', '/p', 'the payload is empty'],
    [{}, '/__proto__', '/__proto__ leads nowhere: the message is an object without members and has no __proto__'],
  ])('%j at %s is refused by name', (payload, pointer, reason) => {
    const { accepted, refused } = one(payload, pointer);
    expect(accepted).toEqual([]);
    expect(refused[0]?.reason.replace(/^pressure: /, '')).toBe(reason);
  });

  it.each([
    [{ p: 1, t: '4 May' }, 'rfc3339', /at \/t the time "4 May" isn't RFC 3339/],
    [{ p: 1, t: 'soon' }, 'unix_s', /number of seconds since 1970 and is "soon"/],
    [{ p: 1, t: 12 }, 'unix_s', /before 2000-01-01/],
    [{ p: 1, t: 1_777_876_267 }, 'unix_ms', /before 2000-01-01/],
    [{ p: 1 }, 'unix_ms', /\/t leads nowhere/],
  ] as const)('a time that can’t be one refuses the reading: %j as %s', (payload, form, reason) =>
    expect(one(payload, '/p', { pointer: '/t', form }).refused[0]?.reason).toMatch(reason),
  );

  it('of several channels the good ones are read, the others refused', () => {
    const { accepted, refused } = read(
      [
        { channel: 'pressure', value: '/p' },
        { channel: 'flow', value: '/q' },
        { channel: 'pump', value: '/on' },
      ],
      { p: 2.1, on: true },
    );
    expect(accepted.map(({ channel, value }) => [channel, value])).toEqual([
      ['pressure', 2.1],
      ['pump', 1],
    ]);
    expect(refused.map(({ reason }) => reason)).toEqual([expect.stringMatching(/^flow: \/q leads nowhere/)]);
  });

  it('a list of entries is read entry by entry, bad ones refused with their index', () => {
    const { accepted, refused } = read(
      [{ channel: 'pressure', entries: '/log', value: '/v', time: { pointer: '/at', form: 'unix_s' } }],
      { log: [{ v: 1, at: 1_777_876_267 }, { at: 1_777_876_268 }, { v: 2, at: 1_777_876_269 }] },
    );
    expect(accepted.map(({ index, value }) => [index, value])).toEqual([
      [0, 1],
      [2, 2],
    ]);
    expect(refused).toEqual([{ index: 1, reason: expect.stringContaining('/v leads nowhere') }]);
  });

  it('no bytes and no pointer make it throw, and every channel is read or refused', () => {
    const pointer = fc.oneof(fc.constantFrom('', '/a', '/a/0', '/0', '/a~1b', 'x', '/~'), fc.string({ maxLength: 8 }));
    const payload = fc.oneof(
      fc.uint8Array({ maxLength: 60 }),
      fc.json().map((text) => new TextEncoder().encode(text)),
    );
    fc.assert(
      fc.property(payload, pointer, fc.option(pointer), fc.option(pointer), (bytes, value, entries, time) => {
        const mapping: DeviceMapping = {
          filter: 'x',
          channels: [
            {
              channel: 'flow',
              value,
              ...(entries === null ? {} : { entries }),
              ...(time === null ? {} : { time: { pointer: time, form: 'unix_ms' as const } }),
            },
          ],
        };
        const { accepted, refused } = mappedReader(mapping)(bytes, NOON_MS);
        expect(accepted.length + refused.length).toBeGreaterThan(0);
        for (const { reason } of refused) expect(reason.length).toBeGreaterThan(10);
        for (const entry of accepted) expect(Number.isFinite(entry.value)).toBe(true);
      }),
      { numRuns: 500 },
    );
  });
});

describe('a mapping', () => {
  it.each([
    ['#', /also covers mainsdiary/],
    ['+/+/pressure', /also covers mainsdiary/],
    ['mainsdiary/other/pressure', /also covers mainsdiary/],
    ['$SYS/broker', /belong to the broker/],
    ['plant#', /not the whole of its last level/],
  ])('may not follow %s', (filter, message) =>
    expect(mappingFaults({ filter, channels: [{ channel: 'pressure', value: '/p' }] })).toEqual([
      { place: 'filter', message: expect.stringMatching(message) },
    ]),
  );
  it('names a wrong pointer and a channel that stands twice', () =>
    expect(
      mappingFaults({
        filter: 'plant/+/state',
        channels: [
          { channel: 'pressure', value: 'p' },
          { channel: 'pressure', value: '/p', time: { pointer: '/~', form: 'unix_s' } },
        ],
      }).map(({ place }) => place),
    ).toEqual(['channels.0.value', 'channels.1.channel', 'channels.1.time']));
});
