import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readPlainBatch } from '../../../collector/ingest/plain-batch.ts';
import { readPayload } from '../../../collector/ingest/read-payload.ts';
import { NOON_MS } from './collector-under-test.ts';

const bytesOf = (text: string): Uint8Array => Buffer.from(text);

function plain(text: string): [number, number][] | undefined {
  const columns = readPlainBatch(bytesOf(text), NOON_MS);
  return columns && Array.from(columns.timeMs, (atMs, i) => [atMs, columns.value[i]!]);
}

function general(text: string): [number | undefined, number][] {
  const { accepted, refused } = readPayload(bytesOf(text), 'pressure', NOON_MS);
  expect(refused, `the general reader refuses ${text}`).toEqual([]);
  return accepted.map(({ atMs, value }) => [atMs, value]);
}

describe('the plain batch', () => {
  it.each([
    ['[{"time":1777897867,"value":1.482}]', [[1777897867000, 1.482]]],
    ['{"time":"2026-05-04T06:31:07Z","value":1.482}', [[Date.UTC(2026, 4, 4, 6, 31, 7), 1.482]]],
    ['{"value":-0.25,"time":"2026-05-04T07:31:07.250+01:00"}', [[Date.UTC(2026, 4, 4, 6, 31, 7, 250), -0.25]]],
    [' [ { "time" : 1777897867123 ,\n"value" : 0 } , {"time":1777897868.5,"value":12}\t]\r\n', undefined],
  ])('reads %s', (text, expected) => {
    expect(plain(text)).toEqual(expected ?? general(text));
  });

  it.each([
    '',
    '1.482',
    '[]',
    '[1]',
    'null',
    '{"time":1777897867}',
    '{"value":1}',
    '{"time":1777897867,"value":1,"unit":"bar"}',
    '{"time":1777897867,"time":1777897867}',
    '{"value":1,"value":2}',
    '{"time":1777897867,"value":"1"}',
    '{"time":1777897867,"value":01}',
    '{"time":1777897867,"value":1.}',
    '{"time":1777897867,"value":.5}',
    '{"time":1777897867,"value":+1}',
    '{"time":1777897867,"value":-}',
    '{"time":1777897867,"value":1e3}',
    '{"time":1777897867,"value":1.5E0}',
    '{"time":1777897867,"value":1.2345678901}',
    '{"time":1777897867,"value":NaN}',
    '{"time":12,"value":1}',
    '{"time":4102444800,"value":1}',
    '{"time":"2026-02-30T06:31:07Z","value":1}',
    '{"time":"2026-05-04","value":1}',
    '{"\\u0074ime":1777897867,"value":1}',
    '{"time":1777897867,"value":1}x',
    '[{"time":1777897867,"value":1}',
    '[{"time":1777897867,"value":1},]',
    '[{"time":1777897867,"value":1}]]',
    '\ufeff{"time":1777897867,"value":1}',
    `[${Array.from({ length: 3601 }, () => '{"time":1777897867,"value":1}').join()}]`,
  ])('leaves %j to the general reader', (text) => {
    expect(plain(text)).toBeUndefined();
  });

  const decimal = fc.oneof(
    fc.integer({ min: -9999, max: 99_999 }).map((steps) => String(steps / 1000)),
    fc.double({ noNaN: true, noDefaultInfinity: true }).map((value) => JSON.stringify(value)),
    fc.stringMatching(/^-?[0-9]{1,12}(\.[0-9]{1,12})?$/),
  );
  const time = fc.oneof(
    fc.integer({ min: NOON_MS - 1e9, max: NOON_MS + 1e7 }).map(String),
    fc.integer({ min: NOON_MS - 1e9, max: NOON_MS + 1e7 }).map((atMs) => String(atMs / 1000)),
    fc.integer({ min: NOON_MS - 1e9, max: NOON_MS + 1e7 }).map((atMs) => `"${new Date(atMs).toISOString()}"`),
    decimal,
  );
  const space = fc.constantFrom('', '', '', ' ', '\n\t');
  const entry = fc
    .tuple(time, decimal, fc.boolean(), space)
    .map(([at, value, turned, gap]) =>
      turned
        ? `{${gap}"value"${gap}:${gap}${value},"time":${at}${gap}}`
        : `{"time":${gap}${at}${gap},${gap}"value":${value}}`,
    );
  const batch = fc.oneof(
    fc.array(entry, { minLength: 1, maxLength: 12 }).map((entries) => `[${entries.join()}]`),
    entry,
  );

  it('says the same as the general reader of whatever it reads', () => {
    let read = 0;
    fc.assert(
      fc.property(batch, (text) => {
        const columns = plain(text);
        if (columns === undefined) return;
        read += 1;
        expect(columns).toEqual(general(text));
      }),
      { numRuns: 3000 },
    );
    expect(read).toBeGreaterThan(100);
  });

  it('never reads what the general reader would refuse, however the bytes are broken', () => {
    const broken = fc
      .tuple(batch, fc.nat(), fc.integer({ min: 0, max: 255 }), fc.constantFrom('put', 'drop', 'insert'))
      .map(([text, place, byte, change]) => {
        const bytes = [...bytesOf(text)];
        const at = place % bytes.length;
        if (change === 'put') bytes[at] = byte;
        else if (change === 'drop') bytes.splice(at, 1);
        else bytes.splice(at, 0, byte);
        return Uint8Array.from(bytes);
      });
    fc.assert(
      fc.property(broken, (bytes) => {
        const columns = readPlainBatch(bytes, NOON_MS);
        if (columns === undefined) return;
        const { accepted, refused } = readPayload(bytes, 'pressure', NOON_MS);
        expect(refused).toEqual([]);
        expect(accepted.map(({ atMs }) => atMs)).toEqual([...columns.timeMs]);
        expect(accepted.map(({ value }) => value)).toEqual([...columns.value]);
      }),
      { numRuns: 3000 },
    );
  });

  it('hands out columns that later batches leave alone', () => {
    const first = readPlainBatch(bytesOf('{"time":1777897867,"value":1}'), NOON_MS)!;
    for (let i = 0; i < 20_000; i++) readPlainBatch(bytesOf('{"time":1777897868,"value":2}'), NOON_MS);
    expect([...first.timeMs, ...first.value]).toEqual([1777897867000, 1]);
  });
});
