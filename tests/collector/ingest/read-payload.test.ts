import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MAX_BATCH_ENTRIES, MAX_PAYLOAD_BYTES } from '../../../collector/ingest/intake-limits.ts';
import { readPayload } from '../../../collector/ingest/read-payload.ts';
import { CHANNELS } from '../../../collector/model/channel.ts';

const ARRIVED_MS = Date.UTC(2026, 4, 4, 12, 30);
const read = (text: string, channel: (typeof CHANNELS)[number] = 'pressure') =>
  readPayload(Buffer.from(text), channel, ARRIVED_MS);
const whyRefused = (text: string, channel: (typeof CHANNELS)[number] = 'pressure') => {
  const { accepted, refused } = read(text, channel);
  expect(accepted).toEqual([]);
  expect(refused).toHaveLength(1);
  return refused[0]!.reason;
};

describe('a bare number', () => {
  // RFC 8259 section 6: the grammar, and its own way with signs, leading zeros and exponents.
  test.each([
    ['1.482', 1.482],
    [' \t\r\n1.482 \n', 1.482],
    ['0', 0],
    ['-0', 0],
    ['-0.25', -0.25],
    ['1e-3', 0.001],
    ['2E+2', 200],
    ['310000', 310000],
    ['0.1234567891234', 0.123456789],
    ['1234567891.4', 1234567890],
  ])('%j is %d', (text, value) => {
    expect(read(text)).toEqual({
      accepted: [{ index: 0, channel: 'pressure', atMs: undefined, fromArrival: false, value, unit: undefined }],
      refused: [],
    });
  });

  test.each(['1.', '.5', '+1', '01', '1,5', '0x10', 'NaN', 'Infinity', '-', '1e', '1 2', '1.482bar', '\ufeff1', '１'])(
    '%j is no number of JSON and is refused',
    (text) => expect(whyRefused(text)).toContain('neither a number nor JSON'),
  );

  test('a decimal comma is called one', () => expect(whyRefused('1,482')).toContain('decimal comma'));
  test('a number beyond what a double holds is refused', () => expect(whyRefused('1e999')).toContain('too large'));
});

describe('a pump', () => {
  test.each([
    ['true', 1],
    ['false', 0],
    ['on', 1],
    ['off', 0],
    ['1', 1],
    ['0', 0],
    [' on\n', 1],
    ['{"value":true}', 1],
    ['{"value":"off"}', 0],
  ])('%j is %d', (text, value) => expect(read(text, 'pump').accepted).toMatchObject([{ channel: 'pump', value }]));

  test.each(['2', '0.5', 'ON', 'yes', '"on"', '{"value":"yes"}'])('%j is refused', (text) =>
    expect(whyRefused(text, 'pump').length).toBeGreaterThan(10),
  );
  test('the words mean nothing on another channel', () => expect(whyRefused('true')).toContain('not a number'));
});

describe('values with their own time', () => {
  const AT = Date.UTC(2026, 4, 4, 6, 31, 7);
  // RFC 3339 section 5.8 shows the forms; the numbers are the same instant in Unix seconds and milliseconds.
  test.each([
    ['"2026-05-04T06:31:07Z"', AT],
    ['"2026-05-04T08:31:07+02:00"', AT],
    ['"2026-05-04t06:31:07.250z"', AT + 250],
    ['1777876267', AT],
    ['1777876267.25', AT + 250],
    ['1777876267000', AT],
    ['"2000-01-01T00:00:00Z"', Date.UTC(2000, 0, 1)],
    ['"2026-05-05T12:30:00Z"', ARRIVED_MS + 86_400_000],
  ])('time %s', (time, atMs) => {
    expect(read(`{"time":${time},"value":1.482}`).accepted).toMatchObject([{ index: 0, atMs, value: 1.482 }]);
  });

  test.each([
    ['"2026-05-04 06:31:07"', "isn't RFC 3339"],
    ['"2026-05-04T06:31:07"', "isn't RFC 3339"],
    ['"2026-02-30T06:31:07Z"', "isn't RFC 3339"],
    ['"yesterday"', "isn't RFC 3339"],
    ['null', 'neither RFC 3339 text nor a number'],
    ['[]', 'neither RFC 3339 text nor a number'],
    ['1e999', 'neither RFC 3339 text nor a number'],
    ['0', 'before 2000-01-01'],
    ['-1e300', 'before 2000-01-01'],
    ['946684799', 'before 2000-01-01'],
    ['"2026-05-05T12:30:00.001Z"', 'more than 24 h after arrival'],
    ['1e300', 'more than 24 h after arrival'],
  ])('time %s is refused', (time, reason) => expect(whyRefused(`{"time":${time},"value":1}`)).toContain(reason));

  test.each([
    '{}',
    '{"time":1777876267}',
    '{"value":null}',
    '{"value":"1.5"}',
    '{"value":[1]}',
    '{"value":1e999}',
    '{"__proto__":{"value":1}}',
  ])('%s is refused', (text) => expect(whyRefused(text).length).toBeGreaterThan(10));

  test('without a time the arrival stands in', () => {
    expect(read('{"value":1.5,"note":"x"}').accepted).toMatchObject([{ atMs: undefined, value: 1.5 }]);
  });
});

describe('a batch', () => {
  test('good entries are read, bad ones refused with their index', () => {
    const { accepted, refused } = read(
      '[{"time":1777876267,"value":1},{"time":1777876268},7,{"time":"?","value":2},{"value":3}]',
    );
    expect(accepted.map(({ index }) => index)).toEqual([0, 4]);
    expect(refused.map(({ index }) => index)).toEqual([1, 2, 3]);
  });

  test(`${MAX_BATCH_ENTRIES} entries are read, one more is refused as a whole`, () => {
    const batch = (n: number) =>
      JSON.stringify(Array.from({ length: n }, (_, i) => ({ time: 1777876267 + i, value: 1 })));
    expect(read(batch(MAX_BATCH_ENTRIES)).accepted).toHaveLength(MAX_BATCH_ENTRIES);
    expect(whyRefused(batch(MAX_BATCH_ENTRIES + 1))).toContain('3601 entries');
  });

  test('an empty list, an empty payload and other JSON are refused', () => {
    for (const text of ['[]', '', '"1.5"', 'null', 'true', '   ']) expect(whyRefused(text).length).toBeGreaterThan(10);
  });

  test('nesting without end is refused, not followed', () => {
    expect(whyRefused('['.repeat(200_000)).length).toBeGreaterThan(10);
    expect(whyRefused(`${'['.repeat(100_000)}${']'.repeat(100_000)}`)).toContain('an entry is an object');
  });
});

test(`more than ${MAX_PAYLOAD_BYTES} bytes are not looked at`, () => {
  expect(whyRefused(`1${' '.repeat(MAX_PAYLOAD_BYTES)}`)).toContain('bytes');
  expect(read(`1${' '.repeat(MAX_PAYLOAD_BYTES - 1)}`).accepted).toHaveLength(1);
});

test('bytes that are no UTF-8 are refused', () => {
  expect(readPayload(Buffer.from([0xff, 0xfe, 0x31]), 'pressure', ARRIVED_MS).refused[0]?.reason).toContain('UTF-8');
});

describe('whatever the bytes', () => {
  const channel = fc.constantFrom(...CHANNELS);
  const whole = (payload: Uint8Array, of: (typeof CHANNELS)[number]) => {
    const { accepted, refused } = readPayload(payload, of, ARRIVED_MS);
    for (const { reason } of refused) expect(reason.length).toBeGreaterThan(10);
    for (const { value, atMs } of accepted) {
      expect(Number.isFinite(value)).toBe(true);
      expect(Number(value.toPrecision(9))).toBe(value);
      if (atMs !== undefined) {
        expect(Number.isInteger(atMs)).toBe(true);
        expect(atMs >= Date.UTC(2000, 0, 1) && atMs <= ARRIVED_MS + 86_400_000).toBe(true);
      }
    }
    return { accepted, refused };
  };

  test('any bytes are read or refused, and never throw', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 300 }), channel, (bytes, of) => {
        const { accepted, refused } = whole(bytes, of);
        expect(accepted.length + refused.length).toBe(1);
      }),
      { numRuns: 2000 },
    );
  });

  const value = fc.oneof(fc.double({ noNaN: true }), fc.integer(), fc.boolean(), fc.string(), fc.constant(null));
  const time = fc.oneof(
    fc.constant('2026-05-04T06:31:07Z'),
    fc.double(),
    fc.integer({ min: 1.7e9, max: 1.78e9 }),
    fc.integer({ min: 1.7e12, max: 1.78e12 }),
    fc.string(),
    fc.constant(null),
  );
  const timed = fc.record({ time, value, extra: fc.anything() }, { requiredKeys: [] });

  test('of a batch every entry is stored or refused, once, under its own index', () => {
    fc.assert(
      fc.property(fc.array(fc.oneof(timed, fc.jsonValue()), { minLength: 1, maxLength: 30 }), channel, (batch, of) => {
        const list = JSON.parse(JSON.stringify(batch)) as unknown[];
        const plain = list.filter((item) => !(item as { v?: unknown } | null)?.v);
        const { accepted, refused } = whole(Buffer.from(JSON.stringify(plain)), of);
        if (refused[0]?.index === undefined && refused.length > 0)
          expect([accepted.length, refused.length]).toEqual([0, 1]);
        else {
          const indexes = [...accepted, ...refused].map(({ index }) => index!).sort((a, b) => a - b);
          expect(new Set(indexes).size).toBe(indexes.length);
          expect(indexes.length).toBeLessThanOrEqual(plain.length);
          if (!plain.some(isPack)) expect(indexes).toEqual(plain.map((_, i) => i));
        }
      }),
      { numRuns: 1000 },
    );
  });

  const senml = fc.record(
    {
      n: fc.oneof(fc.string(), fc.constantFrom('pressure', 'urn:x:flow', 'a.pump'), fc.integer()),
      u: fc.constantFrom('Pa', 'V', 'l/s', 'furlong', '__proto__'),
      v: value,
      vb: fc.boolean(),
      t: fc.oneof(fc.double(), fc.integer({ min: -100, max: 0 }), fc.integer({ min: 1.7e9, max: 1.77e9 })),
      bn: fc.string(),
      bt: fc.oneof(fc.double(), fc.integer({ min: 1.7e9, max: 1.77e9 }), fc.string()),
      bv: fc.oneof(fc.double(), fc.string()),
      bver: fc.integer({ min: 8, max: 11 }),
    },
    { requiredKeys: ['v'] },
  );

  test('of a SenML pack every record with a value is stored or refused, once', () => {
    fc.assert(
      fc.property(fc.array(senml, { minLength: 1, maxLength: 20 }), channel, (pack, of) => {
        const { accepted, refused } = whole(Buffer.from(JSON.stringify(pack)), of);
        if (refused.length === 1 && refused[0]?.index === undefined) return;
        expect([...accepted, ...refused].map(({ index }) => index!).sort((a, b) => a - b)).toEqual(
          pack.map((_, i) => i),
        );
      }),
      { numRuns: 1000 },
    );
  });
});

function isPack(item: unknown): boolean {
  return (
    typeof item === 'object' &&
    item !== null &&
    ['n', 'bn', 'v', 'bv', 'vb', 't', 'bt', 'u', 'bu'].some((label) => label in item)
  );
}
