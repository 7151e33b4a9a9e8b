import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { PROBLEMS } from '../../../api/problems.ts';
import { ask, askRoute } from './asking.ts';
import { type RunningServer, startServer } from './running-server.ts';

let server: RunningServer;
let base: string;

beforeAll(async () => {
  server = await startServer();
  base = server.url;
});
afterAll(() => server.stop());

let made = 0;
async function newSite(): Promise<string> {
  const answer = await askRoute(base, 'createSite', { body: { name: '12 Sample Row', timeZone: 'Europe/London' } });
  expect(answer.status).toBe(201);
  return answer.json.id;
}
async function newLogger(site: string, more: Record<string, unknown> = {}): Promise<string> {
  const id = `logger-${++made}`;
  const body = {
    id,
    site,
    position: 'incoming',
    channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] }],
    ...more,
  };
  const answer = await askRoute(base, 'createLogger', { body });
  expect(answer.status, answer.text).toBe(201);
  return id;
}
async function importText(id: string, text: string | Buffer, query: Record<string, string> = {}) {
  return askRoute(base, 'importSamples', {
    params: { id },
    query,
    headers: { 'content-type': typeof text === 'string' ? 'text/csv' : 'application/gzip' },
    body: text,
  });
}
function expectProblem(
  answer: { status: number; headers: object; json: Record<string, unknown> },
  code: keyof typeof PROBLEMS,
) {
  expect(answer.json).toMatchObject({ code, status: PROBLEMS[code].status, title: PROBLEMS[code].title });
  expect(answer.status).toBe(PROBLEMS[code].status);
  expect(answer.headers).toMatchObject({ 'content-type': expect.stringMatching(/^application\/problem\+json/) });
  expect(String(answer.json['detail']).length).toBeGreaterThan(5);
  expect(String(answer.json['hint']).length).toBeGreaterThan(5);
}
/** A minute of readings, one a second from 06:30:00 on. */
const MINUTE = [
  'time,pressure_bar',
  ...Array.from(
    { length: 60 },
    (_, s) => `2026-05-04T06:30:${String(s).padStart(2, '0')}Z,${(2 + s / 1000).toFixed(3)}`,
  ),
].join('\n');

describe('the program', () => {
  it('is well once it listens and can store', async () => {
    const answer = await askRoute(base, 'health');
    expect(answer.status).toBe(200);
    expect(answer.json).toMatchObject({ status: 'ok', sealing: 0, mqtt: 'listening' });
  });
  it('says what it is and where loggers publish', async () => {
    const { json } = await askRoute(base, 'about');
    expect(json).toMatchObject({
      version: '0.0.0-test',
      demo: false,
      broker: { kind: 'embedded', port: server.mqttPort },
    });
  });
  it('describes itself', async () => {
    expect((await askRoute(base, 'openapi')).json.openapi).toBe('3.1.0');
  });
  it('tells what there is not, and what is asked the wrong way', async () => {
    expectProblem(await ask(base, 'GET', '/api/nothing'), 'unknown_route');
    const wrongMethod = await ask(base, 'PUT', '/api/sites', { body: {} });
    expectProblem(wrongMethod, 'method_not_allowed');
    expect(wrongMethod.headers.allow).toBe('GET, POST');
    expectProblem(await askRoute(base, 'live'), 'upgrade_needed');
  });
  it('answers an address with a broken escape instead of failing', async () => {
    expectProblem(await ask(base, 'GET', '/api/sites/%E0%A4%A'), 'invalid_request');
  });
});

describe('sites', () => {
  it('are added, shown, changed, hidden, shown again and erased', async () => {
    const id = await newSite();
    const params = { id };
    const shown = await askRoute(base, 'getSite', { params });
    expect(shown.json).toMatchObject({
      id,
      name: '12 Sample Row',
      timeZone: 'Europe/London',
      loggers: [],
      first: null,
    });
    const changed = await askRoute(base, 'updateSite', { params, body: { thresholds: { lowSupplyBar: 1 } } });
    expect(changed.json.thresholds).toEqual({ lowSupplyBar: 1, weakInletBar: 0.3, sagMinDepthBar: 0.3 });
    expect((await askRoute(base, 'deleteSite', { params })).status).toBe(204);
    const ids = async (query = {}) =>
      (await askRoute(base, 'listSites', { query })).json.map((site: { id: string }) => site.id);
    expect(await ids()).not.toContain(id);
    expect(await ids({ hidden: 'true' })).toContain(id);
    expect((await askRoute(base, 'updateSite', { params, body: { hidden: false } })).json.hidden).toBeNull();
    expect(await ids()).toContain(id);
    expect((await askRoute(base, 'deleteSite', { params, query: { erase: 'true' } })).status).toBe(204);
    expectProblem(await askRoute(base, 'getSite', { params }), 'unknown_site');
  });
  it('keep every change of several that are asked for at once', async () => {
    const params = { id: await newSite() };
    const bodies = [
      { name: '12 Sample Row, upstairs' },
      { thresholds: { lowSupplyBar: 1 } },
      { thresholds: { weakInletBar: 0.4 } },
      { keepRawDays: 400 },
      { pump: { usableLitres: 5 } },
      { fitted: '2026-05-04T12:00:00Z' },
    ];
    await Promise.all(bodies.map((body) => askRoute(base, 'updateSite', { params, body })));
    expect((await askRoute(base, 'getSite', { params })).json).toMatchObject({
      name: '12 Sample Row, upstairs',
      thresholds: { lowSupplyBar: 1, weakInletBar: 0.4 },
      keepRawDays: 400,
      pump: { usableLitres: 5 },
      fitted: '2026-05-04T12:00:00Z',
    });
  });
  it.each([
    ['a zone that does not exist', { name: 'A', timeZone: 'Europe/Sampleton' }, 'body.timeZone'],
    ['no name', { timeZone: 'UTC' }, 'body.name'],
    ['a name of blanks', { name: '  ', timeZone: 'UTC' }, 'body.name'],
    [
      'a threshold below nought',
      { name: 'A', timeZone: 'UTC', thresholds: { lowSupplyBar: -1 } },
      'body.thresholds.lowSupplyBar',
    ],
    ['a list', [1], 'body'],
  ])('are refused with %s, and the place is named', async (_name, body, place) => {
    const answer = await askRoute(base, 'createSite', { body });
    expectProblem(answer, 'invalid_request');
    expect(answer.json.errors[0].place).toBe(place);
  });
  it('are not changed by an empty body', async () => {
    expectProblem(
      await askRoute(base, 'updateSite', { params: { id: await newSite() }, body: {} }),
      'nothing_to_change',
    );
  });
  it('refuse a body that is no JSON, or too large', async () => {
    const headers = { 'content-type': 'application/json' };
    expectProblem(await askRoute(base, 'createSite', { headers, body: '{"name":' }), 'invalid_json');
    expectProblem(await askRoute(base, 'createSite', { headers, body: `"${'x'.repeat(70_000)}"` }), 'body_too_large');
  });
});

describe('loggers', () => {
  it('are added with a key that is shown once', async () => {
    const site = await newSite();
    const id = `logger-${++made}`;
    const answer = await askRoute(base, 'createLogger', {
      body: { id, site, position: 'incoming', channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] }] },
    });
    expect(answer.json.key).toMatch(/^[0-9a-z]{26}$/);
    expect(answer.json).toMatchObject({ id, site, position: 'incoming', stateCode: 'never_heard', calibrated: false });
    // 1 % of 10 bar as limits of a rectangular distribution, k = 2: 2 · 0.1/√3 (JCGM 100:2008, 4.3.7 and 6.2.1).
    expect(answer.json.sensorUBar).toBeCloseTo(0.11547, 5);
    const again = await askRoute(base, 'getLogger', { params: { id } });
    expect(again.json.key).toBeUndefined();
    const renewed = await askRoute(base, 'renewLoggerKey', { params: { id } });
    expect(renewed.json.key).not.toBe(answer.json.key);
    expect((await askRoute(base, 'getSite', { params: { id: site } })).json.loggers).toEqual([
      { id, position: 'incoming' },
    ]);
  });
  it('of one name are added once, also when asked twice at the same time', async () => {
    const site = await newSite();
    const body = { id: `logger-${++made}`, site };
    const both = await Promise.all([1, 2].map(() => askRoute(base, 'createLogger', { body })));
    expect(both.map((answer) => answer.status).sort()).toEqual([201, 409]);
    expectProblem(both.find((answer) => answer.status === 409)!, 'logger_exists');
  });
  it.each([
    ['a name that would not stand in a topic', { id: 'Front Hall' }, 'body.id'],
    ['a site that is not there', { id: 'a', site: 'nowhere' }, 'body.site'],
    ['a position that is none', { id: 'a', position: 'roof' }, 'body.position'],
    ['a unit of another channel', { id: 'a', channels: [{ channel: 'flow', unit: 'bar' }] }, 'body.channels.0.unit'],
    [
      'a range upside down',
      { id: 'a', channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [10, 0] }] },
      'body.channels.0.rangeBar',
    ],
    [
      'end points of one raw value',
      {
        id: 'a',
        channels: [
          {
            channel: 'pressure',
            unit: 'V',
            endPoints: [
              { raw: 1, bar: 0 },
              { raw: 1, bar: 10 },
            ],
          },
        ],
      },
      'body.channels.0.endPoints',
    ],
    [
      'one channel twice',
      {
        id: 'a',
        channels: [
          { channel: 'flow', unit: 'l/s' },
          { channel: 'flow', unit: 'l/s' },
        ],
      },
      'body.channels.1.channel',
    ],
  ])('are refused with %s', async (_name, body, place) => {
    const answer = await askRoute(base, 'createLogger', { body });
    expectProblem(answer, 'invalid_request');
    expect(answer.json.errors[0].place).toBe(place);
  });
  it('open a new placement when they move, and none when nothing changes', async () => {
    const [first, second] = [await newSite(), await newSite()];
    const id = await newLogger(first);
    const params = { id };
    const move = (body: Record<string, unknown>) => askRoute(base, 'updateLogger', { params, body });
    expect((await move({ site: first })).json.placements).toHaveLength(1);
    const moved = await move({ site: second, from: '2026-05-10T12:00:00Z' });
    expect(moved.json.placements.map((entry: { site: string }) => entry.site)).toEqual([first, second]);
    expect(moved.json.site).toBe(second);
    expectProblem(await move({ site: first, from: '2026-05-09T12:00:00Z' }), 'invalid_request');
    expect((await move({ site: null })).json.site).toBeNull();
  });
  it('keep dated settings: what was set later reads later samples only', async () => {
    const id = await newLogger(await newSite(), { channels: [{ channel: 'pressure', unit: 'V' }] });
    const setPoints = (bar: number, from: string) =>
      askRoute(base, 'updateLogger', {
        params: { id },
        body: {
          from,
          channels: [
            {
              channel: 'pressure',
              unit: 'V',
              endPoints: [
                { raw: 0.5, bar: 0 },
                { raw: 4.5, bar },
              ],
            },
          ],
        },
      });
    await importText(id, 'time,value\n2026-05-04T06:00:00Z,2.5\n2026-05-05T06:00:00Z,2.5\n', { unit: 'V' });
    const series = () => askRoute(base, 'series', { params: { id }, query: { points: '10' } });
    expectProblem(await series(), 'end_points_missing');
    await setPoints(10, '2026-05-01T00:00:00Z');
    // The setting typed first is dated at the logger's creation, so a later date takes its place for what follows.
    await setPoints(16, '2026-05-05T00:00:00Z');
    expect((await series()).json.mean).toEqual([5, 8]);
  });
  it('are hidden, shown again, erased', async () => {
    const id = await newLogger(await newSite());
    const params = { id };
    expect((await askRoute(base, 'deleteLogger', { params })).status).toBe(204);
    const ids = (await askRoute(base, 'listLoggers')).json.map((logger: { id: string }) => logger.id);
    expect(ids).not.toContain(id);
    expectProblem(await importText(id, MINUTE), 'logger_hidden');
    expect((await askRoute(base, 'updateLogger', { params, body: { hidden: false } })).json.hidden).toBeNull();
    expect((await askRoute(base, 'deleteLogger', { params, query: { erase: 'true' } })).status).toBe(204);
    expectProblem(await askRoute(base, 'getLogger', { params }), 'unknown_logger');
  });
  it('list their refusals', async () => {
    const id = await newLogger(await newSite());
    expect((await askRoute(base, 'loggerRefusals', { params: { id } })).json).toEqual([]);
    expect((await askRoute(base, 'unknownRefusals')).json).toEqual([]);
    expectProblem(await askRoute(base, 'loggerRefusals', { params: { id: 'nobody' } }), 'unknown_logger');
  });
});

describe('calibrations', () => {
  it('of one comparison move the line, of two turn it; stored values stay', async () => {
    const id = await newLogger(await newSite());
    const params = { id };
    await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\n');
    const add = (body: Record<string, unknown>) => askRoute(base, 'addCalibration', { params, body });
    const one = await add({ points: [{ at: '2026-05-04T06:00:30Z', gaugeBar: 2.2 }], gaugeAccuracyBar: 0.05 });
    expect(one.status, one.text).toBe(201);
    expect(one.json.gain).toBe(1);
    expect(one.json.offset).toBeCloseTo(0.2, 9);
    const value = async () => (await askRoute(base, 'series', { params, query: { points: '10' } })).json.mean[0];
    expect(await value()).toBeCloseTo(2.2, 9);
    // What the program shows now is 2.2: through the line in force that is the sensor's 2.
    const two = await add({
      points: [
        { readBar: 2.2, gaugeBar: 2.1 },
        { readBar: 0.2, gaugeBar: 0 },
      ],
      from: '2026-05-01T00:00:00Z',
    });
    expect(two.json.gain).toBeCloseTo(1.05, 9);
    expect(two.json.offset).toBeCloseTo(0, 9);
    expect((await askRoute(base, 'getLogger', { params })).json.calibrated).toBe(true);
    expect((await askRoute(base, 'listCalibrations', { params })).json).toHaveLength(2);
  });
  it('are ended by a move: no calibration crosses from one house to another', async () => {
    const [first, second] = [await newSite(), await newSite()];
    const id = await newLogger(first);
    const params = { id };
    await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\n2026-05-20T06:00:00Z,2\n');
    await askRoute(base, 'addCalibration', { params, body: { points: [{ readBar: 2, gaugeBar: 2.2 }] } });
    const moved = await askRoute(base, 'updateLogger', {
      params,
      body: { site: second, from: '2026-05-10T00:00:00Z' },
    });
    expect(moved.json.calibrated).toBe(false);
    const { mean } = (await askRoute(base, 'series', { params, query: { points: '10' } })).json;
    expect(mean[0]).toBeCloseTo(2.2, 9);
    expect(mean[1]).toBe(2);
  });
  it.each([
    ['no point', { points: [] }, 'invalid_request'],
    ['a point without a reading', { points: [{ gaugeBar: 2 }] }, 'invalid_request'],
    ['a time without samples', { points: [{ at: '2026-01-01T00:00:00Z', gaugeBar: 2 }] }, 'invalid_request'],
    [
      'two equal pressures',
      {
        points: [
          { readBar: 2, gaugeBar: 2 },
          { readBar: 2.1, gaugeBar: 2 },
        ],
      },
      'calibration_unfit',
    ],
    ['a gauge in another unit', { points: [{ readBar: 2, gaugeBar: 29 }] }, 'calibration_unfit'],
  ] as const)('are refused with %s', async (_name, body, code) => {
    const id = await newLogger(await newSite());
    expectProblem(await askRoute(base, 'addCalibration', { params: { id }, body }), code);
  });
});

describe('imports', () => {
  it('store each row once, plain or gzip', async () => {
    const id = await newLogger(await newSite());
    const first = await importText(id, MINUTE);
    expect(first.json).toMatchObject({ rows: 60, stored: 60, duplicate: 0, refused: [], refusedCount: 0 });
    const again = await importText(id, gzipSync(MINUTE));
    expect(again.json).toMatchObject({ rows: 60, stored: 0, duplicate: 60 });
    const logger = (await askRoute(base, 'getLogger', { params: { id } })).json;
    expect(logger.extents).toEqual([
      {
        channel: 'pressure',
        first: '2026-05-04T06:30:00Z',
        last: '2026-05-04T06:30:59Z',
        count: 60,
        samplesFrom: null,
      },
    ]);
    expect(logger.lastSample).toMatchObject({
      time: '2026-05-04T06:30:59Z',
      value: 2.059,
      unit: 'bar',
      valueAsSent: 2.059,
    });
    expect(logger.stateCode).toBe('silent');
  });
  it('refuse rows by line and tell the rest', async () => {
    const id = await newLogger(await newSite());
    const answer = await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\nyesterday,2\n');
    expect(answer.json).toMatchObject({ rows: 2, stored: 1, refusedCount: 1, refused: [{ line: 3 }] });
  });
  it('ask where a file can be read in two ways, and the preview asks the same', async () => {
    const id = await newLogger(await newSite());
    const twoWays = 'time,value\n04/05/2026 06:00,2\n05/05/2026 06:00,2\n';
    const query = { zone: 'Europe/London' };
    const asked = await importText(id, twoWays, query);
    expectProblem(asked, 'needs_answer');
    expect(asked.json.questions[0].option).toBe('dateOrder');
    const preview = await askRoute(base, 'previewImport', {
      params: { id },
      query,
      headers: { 'content-type': 'text/csv' },
      body: twoWays,
    });
    expect(preview.json.questions.map((entry: { option: string }) => entry.option)).toEqual(['dateOrder']);
    expect((await importText(id, twoWays, { ...query, dateOrder: 'day-first' })).json.stored).toBe(2);
  });
  it.each([
    ['a channel that is none', { channel: 'noise' }, 'invalid_request'],
    ['a parameter that is none', { columns: 'time' }, 'invalid_request'],
    ['a unit of another channel', { unit: 'l/min' }, 'option_wrong'],
    ['a column that is not there', { value: 'pressure' }, 'unknown_column'],
  ] as const)('are refused with %s', async (_name, query, code) => {
    const id = await newLogger(await newSite());
    expectProblem(await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\n', query), code);
  });
  it('take empty parameters as missing ones', async () => {
    const id = await newLogger(await newSite());
    expect(
      (await importText(id, MINUTE, { channel: '', time: '', value: '', unit: '', zone: '', date: '' })).json.stored,
    ).toBe(60);
  });
  it('refuse other kinds of body, a logger that is not there, and a preview beyond its size', async () => {
    const id = await newLogger(await newSite());
    const form = { 'content-type': 'application/x-www-form-urlencoded' };
    expectProblem(
      await askRoute(base, 'importSamples', { params: { id }, headers: form, body: MINUTE }),
      'unsupported_content_type',
    );
    expectProblem(await importText('nobody', MINUTE), 'unknown_logger');
    const large = {
      params: { id },
      headers: { 'content-type': 'text/csv' },
      body: `time,value\n${'x'.repeat(300_000)}`,
    };
    expectProblem(await askRoute(base, 'previewImport', large), 'body_too_large');
  });
});

describe('series', () => {
  it('give samples where they are few, extremes where they are many, never more than asked', async () => {
    const id = await newLogger(await newSite());
    await importText(id, MINUTE);
    const series = async (query: Record<string, string>) =>
      (await askRoute(base, 'series', { params: { id }, query })).json;
    const raw = await series({ points: '100' });
    expect(raw).toMatchObject({ resolution: 'raw', stepMs: null, unit: 'bar', channel: 'pressure' });
    expect(raw.time).toHaveLength(60);
    const few = await series({ points: '7' });
    expect(few.time.length).toBeLessThanOrEqual(7);
    expect(Math.min(...few.min)).toBe(2);
    expect(Math.max(...few.max)).toBe(2.059);
    expect(few.count.reduce((sum: number, n: number) => sum + n, 0)).toBe(60);
    const wide = await series({ points: '5', from: '2026-01-01T00:00:00Z', to: '2026-12-31T00:00:00Z' });
    expect(wide.resolution).toBe('hour');
    expect(wide).toMatchObject({ min: [2], max: [2.059], count: [60] });
    const one = await series({ points: '1' });
    expect(one.time).toHaveLength(1);
  });
  it('leave gaps as gaps and answer an empty span with empty columns', async () => {
    const id = await newLogger(await newSite());
    await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\n2026-05-04T09:00:00Z,2\n');
    const { json } = await askRoute(base, 'series', { params: { id }, query: { points: '1000' } });
    expect(json.time).toHaveLength(2);
    const empty = await askRoute(base, 'series', { params: { id }, query: { channel: 'flow' } });
    expect(empty.json).toMatchObject({ unit: 'l/min', time: [], min: [], count: [] });
  });
  it('stream as CSV what reads back as the same samples', async () => {
    const id = await newLogger(await newSite(), { channels: [{ channel: 'pressure', unit: 'kPa' }] });
    await importText(id, 'time,value\n2026-05-04T06:00:00.250Z,241.3\n2026-05-04T06:00:01Z,240\n');
    const answer = await askRoute(base, 'series', { params: { id }, headers: { accept: 'text/csv' } });
    expect(answer.headers['content-type']).toMatch(/^text\/csv/);
    expect(answer.text).toBe(
      'time,value,value_as_sent,unit_as_sent\r\n2026-05-04T06:00:00.250Z,2.413,241.3,kPa\r\n2026-05-04T06:00:01.000Z,2.4,240,kPa\r\n',
    );
    const other = await newLogger(await newSite());
    expect((await importText(other, answer.text)).json).toMatchObject({ stored: 2 });
    const back = await askRoute(base, 'series', { params: { id: other }, headers: { accept: 'text/csv' } });
    const values = (text: string) => text.split('\r\n').map((line) => line.split(',').slice(0, 2).join(','));
    expect(values(back.text)).toEqual(values(answer.text));
  });
  it.each([
    ['no points', { points: '0' }],
    ['too many points', { points: '20001' }],
    ['half a point', { points: '1.5' }],
    ['words for points', { points: 'many' }],
    ['a channel that is none', { channel: 'noise' }],
    ['a time that is none', { from: 'yesterday' }],
    ['a day that is none', { from: '2026-02-30T00:00:00Z' }],
  ])('are refused with %s', async (_name, query) => {
    const id = await newLogger(await newSite());
    expectProblem(await askRoute(base, 'series', { params: { id }, query }), 'invalid_request');
  });
  it('are refused with a span upside down', async () => {
    const id = await newLogger(await newSite());
    const query = { from: '2026-05-05T00:00:00Z', to: '2026-05-04T00:00:00Z' };
    expectProblem(await askRoute(base, 'series', { params: { id }, query }), 'span_wrong');
  });
});

describe('findings and letters', () => {
  it('come for a logger, for its site, with others beside', async () => {
    const site = await newSite();
    const id = await newLogger(site);
    const pump = await newLogger(site, { position: 'pump_outlet' });
    await importText(id, MINUTE);
    await importText(pump, MINUTE);
    const own = await askRoute(base, 'loggerFindings', { params: { id } });
    expect(own.status, own.text).toBe(200);
    expect(own.json).toMatchObject({
      logger: id,
      series: { samples: 60, position: 'incoming', timeZone: 'Europe/London' },
    });
    const both = await askRoute(base, 'siteFindings', { params: { id: site } });
    expect(both.json.logger).toBe(id);
    expect(both.json.others).toHaveLength(1);
    expect(both.json.others[0]).toMatchObject({ logger: pump, series: { position: 'pump_outlet' } });
  });
  it('never take a sample of another house', async () => {
    const [first, second] = [await newSite(), await newSite()];
    const id = await newLogger(first);
    await importText(id, 'time,value\n2026-05-04T06:00:00Z,2\n2026-05-04T06:00:01Z,2\n2026-05-20T06:00:00Z,1\n');
    await askRoute(base, 'updateLogger', { params: { id }, body: { site: second, from: '2026-05-10T00:00:00Z' } });
    const samples = async (site: string) =>
      (await askRoute(base, 'siteFindings', { params: { id: site } })).json.series.samples;
    expect(await samples(first)).toBe(2);
    expect(await samples(second)).toBe(1);
    const shown = (await askRoute(base, 'getSite', { params: { id: first } })).json;
    expect(shown).toMatchObject({ first: '2026-05-04T06:00:00Z', loggers: [] });
  });
  it('say that nothing is known of a logger that was never heard', async () => {
    const site = await newSite();
    const id = await newLogger(site);
    for (const answer of [
      await askRoute(base, 'loggerFindings', { params: { id } }),
      await askRoute(base, 'siteFindings', { params: { id: site }, query: { from: '', to: '' } }),
    ]) {
      expect(answer.status, answer.text).toBe(200);
      expect(answer.json).toMatchObject({ logger: id, series: { samples: 0, start: null }, draws: [], lowSupply: [] });
    }
    expect((await askRoute(base, 'letter', { params: { id: site } })).status).toBe(200);
    expect((await askRoute(base, 'series', { params: { id }, query: { points: '' } })).json.time).toEqual([]);
  });
  it('join the flow of another logger in the same house, and what the pump draws from', async () => {
    const site = await newSite();
    const outlet = await newLogger(site, { position: 'pump_outlet' });
    const inlet = await newLogger(site, { position: 'pump_inlet' });
    const meter = await newLogger(site, { channels: [{ channel: 'pump', unit: 'on/off' }] });
    // Twenty minutes; the pump runs from the fifth to the tenth, and pulls the main at its inlet down to 0.1 bar.
    const runs = (second: number) => second >= 300 && second < 600;
    const log = (value: (second: number) => number) =>
      Array.from(
        { length: 1200 },
        (_, s) => `${new Date(Date.UTC(2026, 4, 4, 6) + s * 1000).toISOString()},${value(s)}`,
      );
    const file = (value: (second: number) => number) => ['time,value', ...log(value)].join('\n');
    await importText(
      outlet,
      file((s) => (runs(s) ? 3 : 1.5) + (s % 3) / 1000),
    );
    await importText(
      inlet,
      file((s) => (runs(s) ? 0.1 : 1) + (s % 3) / 1000),
    );
    await importText(
      meter,
      file((s) => (runs(s) ? 1 : 0)),
      { channel: 'pump' },
    );
    const answer = await askRoute(base, 'siteFindings', { params: { id: site } });
    expect(answer.status, answer.text).toBe(200);
    expect(answer.json.logger).toBe(outlet);
    // Below the site's weakInletBar of 0.3 while the pump runs (a pump must not pull the main towards nought).
    expect(answer.json.weakInlet).toMatchObject([{ minBar: expect.closeTo(0.1, 2) }]);
    expect(Date.parse(answer.json.weakInlet[0].start)).toBeCloseTo(Date.UTC(2026, 4, 4, 6, 5), -4);
    expect(answer.json.pumpStarts).toHaveLength(1);
  });
  it('read the logger before a pump by its own calibration, range and height, and only while it stood there', async () => {
    const site = await newSite();
    const channels = [{ channel: 'pressure', unit: 'bar', rangeBar: [-1, 9] }];
    const outlet = await newLogger(site, { position: 'pump_outlet' });
    const inlet = await newLogger(site, { position: 'pump_inlet', channels });
    const meter = await newLogger(site, { channels: [{ channel: 'pump', unit: 'on/off' }] });
    // Forty minutes; the pump runs from the fifth minute to the tenth and from the thirtieth on for five.
    const runs = (second: number) => second % 1500 >= 300 && second % 1500 < 600;
    const file = (value: (second: number) => number) =>
      [
        'time,value',
        ...Array.from(
          { length: 2400 },
          (_, s) => `${new Date(Date.UTC(2026, 4, 4, 6) + s * 1000).toISOString()},${value(s)}`,
        ),
      ].join('\n');
    await importText(
      outlet,
      file((s) => (runs(s) ? 3 : 1.5) + (s % 3) / 1000),
    );
    // It reads 0.2 bar too much, which two comparisons with a gauge show: the pump sucks at its main.
    await importText(
      inlet,
      file((s) => (runs(s) ? -0.1 : 1) + (s % 3) / 1000),
    );
    await importText(
      meter,
      file((s) => (runs(s) ? 1 : 0)),
      { channel: 'pump' },
    );
    const points = [
      { readBar: 1, gaugeBar: 0.8 },
      { readBar: 0.2, gaugeBar: 0 },
    ];
    const params = { id: inlet };
    const calibrated = await askRoute(base, 'addCalibration', {
      params,
      body: { points, from: '2026-05-01T00:00:00Z' },
    });
    expect(calibrated.status, calibrated.text).toBe(201);
    const weak = async () => (await askRoute(base, 'siteFindings', { params: { id: site } })).json.weakInlet;
    expect(await weak()).toMatchObject([{ minBar: expect.closeTo(-0.3, 2) }, { minBar: expect.closeTo(-0.3, 2) }]);
    // Its range goes down to a vacuum: the reading lies within it.
    expect((await weak())[0]).not.toHaveProperty('atRangeEnd');
    // A metre higher from the twentieth minute on: earlier readings are told as they would be there.
    const raised = { heightAboveSupplyPointM: 1, from: '2026-05-04T06:20:00Z' };
    expect((await askRoute(base, 'updateLogger', { params, body: raised })).status).toBe(200);
    expect(await weak()).toMatchObject([{ minBar: expect.closeTo(-0.4, 2) }, { minBar: expect.closeTo(-0.3, 2) }]);
    // What it logs after it was moved to another house is no part of this one's.
    const moved = { site: await newSite(), from: '2026-05-04T06:25:00Z' };
    expect((await askRoute(base, 'updateLogger', { params, body: moved })).status).toBe(200);
    expect(await weak()).toHaveLength(1);
  });
  it('are refused beyond 400 days, and for a site without a logger', async () => {
    const site = await newSite();
    const query = { from: '2025-01-01T00:00:00Z', to: '2026-05-04T00:00:00Z' };
    const id = await newLogger(site);
    expectProblem(await askRoute(base, 'loggerFindings', { params: { id }, query }), 'span_too_long');
    expectProblem(await askRoute(base, 'siteFindings', { params: { id: await newSite() } }), 'nothing_recorded');
  });
  it('make a letter as PDF and as HTML that may run nothing', async () => {
    const site = await newSite();
    const id = await newLogger(site);
    await importText(id, MINUTE);
    const pdf = await askRoute(base, 'letter', { params: { id: site }, query: { format: 'pdf' } });
    expect(pdf.status, pdf.text.slice(0, 500)).toBe(200);
    expect(pdf.headers['content-type']).toBe('application/pdf');
    expect(pdf.bytes.subarray(0, 5).toString()).toBe('%PDF-');
    const html = await askRoute(base, 'letter', { params: { id: site }, query: { format: 'html' } });
    expect(html.headers['content-type']).toBe('text/html; charset=utf-8');
    expect(html.headers['content-security-policy']).toMatch(/default-src 'none'.*sandbox/);
    expect(html.text).toMatch(/12 Sample Row/);
    expectProblem(
      await askRoute(base, 'letter', { params: { id: site }, query: { format: 'docx' } }),
      'invalid_request',
    );
  });
});

describe('sessions on loopback', () => {
  it('are not asked for', async () => {
    expect((await askRoute(base, 'getSession')).json).toEqual({
      accountExists: false,
      signedIn: false,
      needsSignIn: false,
    });
    expectProblem(await askRoute(base, 'signIn', { body: { password: 'whatever' } }), 'no_account');
    expect((await askRoute(base, 'signOut')).status).toBe(204);
  });
});

it('gzip of the test itself is what the program unpacks', () => {
  expect(gunzipSync(gzipSync(MINUTE)).toString()).toBe(MINUTE);
});
