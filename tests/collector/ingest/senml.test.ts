import { describe, expect, test } from 'vitest';
import { readPayload } from '../../../collector/ingest/read-payload.ts';
import { resolveSenml } from '../../../collector/ingest/senml.ts';
import { senmlUnit } from '../../../collector/ingest/senml-units.ts';
import { unitMap } from '../../../collector/model/units.ts';

const ARRIVED_MS = Date.UTC(2026, 4, 4, 12, 30);
const read = (pack: unknown, channel: 'pressure' | 'flow' | 'pump' | 'battery' = 'pressure') =>
  readPayload(Buffer.from(JSON.stringify(pack)), channel, ARRIVED_MS);

describe('the worked examples of RFC 8428', () => {
  // Section 5.1.2 "Multiple Data Points", second example: base name, time, unit and version 5.
  const SECTION_5_1_2 = [
    { bn: 'urn:dev:ow:10e2073a0108006:', bt: 1.276020076001e9, bu: 'A', bver: 5, n: 'voltage', u: 'V', v: 120.1 },
    { n: 'current', t: -5, v: 1.2 },
    { n: 'current', t: -4, v: 1.3 },
    { n: 'current', t: -3, v: 1.4 },
    { n: 'current', t: -2, v: 1.5 },
    { n: 'current', t: -1, v: 1.6 },
    { n: 'current', v: 1.7 },
  ];

  test('5.1.2 resolves as the text says', () => {
    const pack = resolveSenml(SECTION_5_1_2);
    expect(pack.ok && pack.refused).toEqual([]);
    expect(
      pack.ok && pack.records.map(({ name, unit, timeS, value, relative }) => [name, unit, timeS, value, relative]),
    ).toEqual([
      ['urn:dev:ow:10e2073a0108006:voltage', 'V', 1276020076.001, 120.1, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020071.001, 1.2, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020072.001, 1.3, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020073.001, 1.4, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020074.001, 1.5, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020075.001, 1.6, false],
      ['urn:dev:ow:10e2073a0108006:current', 'A', 1276020076.001, 1.7, false],
    ]);
  });

  test('5.1.2 as readings: 2010-06-08T18:01:16.001Z to the millisecond, amperes kept as milliamperes', () => {
    const { accepted, refused } = read(SECTION_5_1_2);
    expect(refused).toEqual([]);
    expect(accepted[0]).toMatchObject({ atMs: Date.UTC(2010, 5, 8, 18, 1, 16, 1), value: 120.1, unit: 'V' });
    expect(accepted[1]).toMatchObject({ atMs: Date.UTC(2010, 5, 8, 18, 1, 11, 1), value: 1200, unit: 'mA' });
  });

  // Section 5.1.3 "Multiple Measurements" and its resolved form in 5.1.4; the records at t 60 to 180 s.
  const SECTION_5_1_3 = [
    { bn: 'urn:dev:ow:10e2073a01080063', bt: 1.320067464e9, bu: '%RH', v: 20 },
    { u: 'lon', v: 24.30621 },
    { u: 'lat', v: 60.07965 },
    { t: 60, v: 20.3 },
    { u: 'lon', t: 60, v: 24.30622 },
    { u: 'lat', t: 60, v: 60.07965 },
    { t: 120, v: 20.7 },
    { u: 'lon', t: 120, v: 24.30623 },
    { u: 'lat', t: 120, v: 60.07966 },
    { u: '%EL', t: 150, v: 98 },
    { t: 180, v: 21.2 },
    { u: 'lon', t: 180, v: 24.30628 },
    { u: 'lat', t: 180, v: 60.07967 },
  ];

  test('5.1.3 resolves to the thirteen records of 5.1.4', () => {
    const pack = resolveSenml(SECTION_5_1_3);
    expect(pack.ok && pack.records.map(({ timeS, unit, value }) => [timeS, unit, value])).toEqual([
      [1320067464, '%RH', 20],
      [1320067464, 'lon', 24.30621],
      [1320067464, 'lat', 60.07965],
      [1320067524, '%RH', 20.3],
      [1320067524, 'lon', 24.30622],
      [1320067524, 'lat', 60.07965],
      [1320067584, '%RH', 20.7],
      [1320067584, 'lon', 24.30623],
      [1320067584, 'lat', 60.07966],
      [1320067614, '%EL', 98],
      [1320067644, '%RH', 21.2],
      [1320067644, 'lon', 24.30628],
      [1320067644, 'lat', 60.07967],
    ]);
    expect(pack.ok && new Set(pack.records.map(({ name }) => name))).toEqual(new Set(['urn:dev:ow:10e2073a01080063']));
  });

  test('5.1.3 on a battery channel: the level is kept, what is no unit of a battery is refused by index', () => {
    const { accepted, refused } = read(SECTION_5_1_3, 'battery');
    expect(accepted).toMatchObject([{ index: 9, value: 98, unit: 'percent', atMs: Date.UTC(2011, 9, 31, 13, 26, 54) }]);
    expect(refused).toHaveLength(12);
    expect(refused[1]).toEqual({ index: 1, reason: 'the unit "lon" isn\'t one of battery' });
  });
});

describe('resolution (RFC 8428 sections 4.1 to 4.6)', () => {
  // Section 4.5.3 gives 2^28 s as the border, and 1978-07-04T21:24:16Z as the smallest absolute time.
  test('a time below 2^28 s is relative to arrival, from there on absolute', () => {
    const { accepted } = read([
      { n: 'pressure', u: 'Pa', t: -30, v: 310000 },
      { v: 1, t: 2 ** 28 - 1 },
      { t: 0, v: 2 },
    ]);
    expect(accepted[0]).toMatchObject({ atMs: ARRIVED_MS - 30_000, fromArrival: true, unit: 'Pa', value: 310000 });
    expect(accepted).toHaveLength(2);
    expect(accepted[1]).toMatchObject({ atMs: undefined, value: 2 });
    const border = resolveSenml([{ v: 1, t: 2 ** 28 }]);
    expect(border.ok && border.records[0]).toMatchObject({
      relative: false,
      timeS: Date.UTC(1978, 6, 4, 21, 24, 16) / 1000,
    });
  });

  test('base values add up, replace one another, and an own unit beats the base unit', () => {
    const pack = resolveSenml([
      { bn: 'urn:x:', bv: 100, bu: 'Pa', bt: 1.7e9, n: 'pressure', v: 5 },
      { n: 'flow', v: -1, t: 2, u: 'l/s' },
      { bv: 0, bn: 'other.', n: 'pump', vb: true },
      { n: 'pressure' },
    ]);
    expect(pack.ok && pack.records.map(({ name, unit, timeS, value }) => [name, unit, timeS, value])).toEqual([
      ['urn:x:pressure', 'Pa', 1.7e9, 105],
      ['urn:x:flow', 'l/s', 1.7e9 + 2, 99],
      ['other.pump', 'Pa', 1.7e9, true],
      ['other.pressure', 'Pa', 1.7e9, 0],
    ]);
  });

  test('a record of base fields alone is neither stored nor refused', () => {
    const { accepted, refused } = read([
      { bn: 'urn:x:', bt: 1.7e9, bu: 'Pa' },
      { n: 'pressure', v: 1 },
    ]);
    expect([accepted.length, refused.length]).toEqual([1, 0]);
  });

  test('unknown labels are ignored, unless they end in an underscore (section 4.4)', () => {
    expect(read([{ v: 1, colour: 'blue', ut: 60 }]).accepted).toHaveLength(1);
    const { accepted, refused } = read([{ v: 1 }, { v: 2, colour_: 'blue' }]);
    expect(accepted).toEqual([]);
    expect(refused).toMatchObject([{ index: undefined }]);
    expect(refused[0]?.reason).toContain('colour_');
  });

  test.each([
    [11, false],
    [10, true],
    [1, true],
    [0, false],
    ['10', false],
    [9.5, false],
  ])('version %s is read: %s (section 4.4)', (bver, good) => {
    expect(read([{ bver, v: 1 }]).accepted.length === 1).toBe(good);
  });

  test('the records of a pack share one version', () => {
    expect(
      read([
        { bver: 5, v: 1 },
        { bver: 6, v: 2 },
      ]).refused,
    ).toMatchObject([{ index: undefined }]);
  });

  test.each([
    [{ v: '1' }, "v isn't a number"],
    [{ vs: 'high', n: 'pressure' }, 'text'],
    [{ vd: 'aGk', n: 'pressure' }, 'data'],
    [{ s: 12, n: 'flow' }, 'sum'],
    [{ n: 'pressure' }, 'no value'],
    [{ v: 1, vb: true }, 'v and vb'],
    [{ v: 1, t: 'now' }, "t isn't a number"],
    [{ v: 1, n: 7 }, "n isn't text"],
    [{ v: 1, u: 7 }, "u isn't text"],
    [{ v: 1, bt: 'today' }, 'base field bt'],
    [{ v: 1, u: 'furlong' }, 'furlong'],
    [{ v: 0.5, n: 'pump' }, "pump's value"],
    [{ v: 1, t: 1e9 * 4 }, 'more than 24 h after arrival'],
    [{ v: 1, t: 5e8 }, 'before 2000'],
  ])('%j is refused by name', (record, reason) => {
    const { accepted, refused } = read([record]);
    expect(accepted).toEqual([]);
    expect(refused).toMatchObject([{ index: 0 }]);
    expect(refused[0]?.reason).toContain(reason);
  });

  test.each([
    ['urn:dev:mac:0024befffe804ff1:pressure', 'pressure'],
    ['house/flow', 'flow'],
    ['a.b.pump', 'pump'],
    ['battery', 'battery'],
    ['urn:dev:x:humidity', 'pressure'],
    ['', 'pressure'],
  ])('the record %j belongs to the channel %s', (n, channel) => {
    expect(read([{ n, v: 1 }]).accepted[0]?.channel).toBe(channel);
  });
});

describe("the registry's units (RFC 8428 section 12.1)", () => {
  // By definition: 1 bar = 100 000 Pa; 0.2 l/s = 12 l/min = 2e-4 m³/s; 273.15 K = 0 °C.
  test.each([
    ['pressure', 'Pa', 310_000, 3.1],
    ['pressure', 'hPa', 3100, 3.1],
    ['flow', 'l/s', 0.2, 12],
    ['flow', 'm3/s', 2e-4, 12],
    ['flow', 'm3/h', 0.72, 12],
    ['temperature', 'Cel', 12.5, 12.5],
    ['temperature', 'K', 273.15, 0],
    ['battery', 'V', 3.6, 3.6],
    ['signal', 'dBW', -100, -70],
  ] as const)('%s in %s: %d is %d in the canonical unit', (channel, unit, sent, canonical) => {
    const known = senmlUnit(channel, unit)!;
    const kept = known.map.gain * sent + known.map.offset;
    const map = unitMap(channel, known.unit)!;
    expect(map.gain * kept + map.offset).toBeCloseTo(canonical, 9);
  });

  test('a ratio is a ratio: 0.8 of a battery is 80 per cent, in both spellings', () => {
    for (const u of ['/', '%'])
      expect(read([{ u, v: 0.8 }], 'battery').accepted).toMatchObject([{ value: 80, unit: 'percent' }]);
    expect(read([{ u: '%EL', v: 80 }], 'battery').accepted).toMatchObject([{ value: 80, unit: 'percent' }]);
  });

  test('inherited names are no units', () => {
    for (const u of ['constructor', '__proto__', 'toString']) expect(senmlUnit('pressure', u)).toBeUndefined();
  });
});
