import mqtt from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { setOwnerPassword } from '../../../api/access/access-file.ts';
import type { FindingsDocument } from '../../../api/analysis/findings.ts';
import { ROUTE_IDS, ROUTES, type RouteId } from '../../../api/contract/route-table.ts';
import type { Channel } from '../../../collector/model/channel.ts';
import { DemoSensors, houseAt } from '../../../simulator/demo-house.ts';
import { type DemoProperty, demoProperties } from '../../../simulator/demo-properties.ts';
import { type Answer, type Asking, askRoute } from './asking.ts';
import { type RunningServer, startServer, temporaryFolder } from './running-server.ts';
import { strictReader } from './strict-answer.ts';

/** Two days of three invented houses that end at a midday: a street that sags, a leaking booster, one without air. */
const END_MS = Date.UTC(2026, 4, 14, 12);
const DAYS = 2;
const PASSWORD = 'bucket lantern oxbow seventeen';
const START_MS = END_MS - DAYS * 86_400_000;

describe('every answer is what the description says, and nothing beyond it', { timeout: 120_000 }, () => {
  let server: RunningServer;
  let faultsOf: ReturnType<typeof strictReader>;
  const asked = new Set<RouteId>();
  const sites = new Map<string, string>();

  /** Asks, and holds the answer to the description. */
  async function told(id: RouteId, asking: Asking = {}): Promise<Answer> {
    const answer = await askRoute(server.url, id, asking);
    expect(faultsOf(id, answer), `${id} ${JSON.stringify(asking.query ?? {})}`).toEqual([]);
    if (answer.status < 300) asked.add(id);
    return answer;
  }
  async function well(id: RouteId, asking: Asking = {}) {
    const answer = await told(id, asking);
    expect(answer.status, answer.text.slice(0, 500)).toBeLessThan(300);
    return answer.json;
  }
  const csv = (id: string, channel: Channel, unit: string, body: string) =>
    well('importSamples', { params: { id }, query: { channel, unit }, headers: { 'content-type': 'text/csv' }, body });

  async function build(property: DemoProperty, more: Record<string, unknown>): Promise<void> {
    const { name, timeZone } = property;
    const site = (await well('createSite', { body: { name, timeZone, ...more } })).id as string;
    sites.set(property.siteId, site);
    const columns = houseAt(property, END_MS, START_MS, START_MS).next((DAYS * 86_400_000) / 1000);
    const sensors = new DemoSensors(property, 'strict');
    const rows = (value: Float64Array) =>
      `time,value\n${Array.from(value, (at, i) => `${new Date(START_MS + i * 1000).toISOString()},${at}`).join('\n')}\n`;
    for (const logger of property.loggers) {
      const { id, position, heightAboveSupplyPointM } = logger;
      const flow = id === 'sample-row-12' ? [{ channel: 'flow', unit: 'l/min' }] : [];
      const channels = [...logger.channels, ...flow];
      await well('createLogger', { body: { id, site, position, heightAboveSupplyPointM, channels } });
      for (const { channel, unit } of logger.channels)
        await csv(id, channel, unit, rows(withFaults(sensors.read(logger, channel, columns), channel)));
      if (flow.length > 0) await csv(id, 'flow', 'l/min', rows(columns.ownLpm));
    }
  }

  beforeAll(async () => {
    const folder = temporaryFolder();
    await setOwnerPassword(folder, PASSWORD);
    server = await startServer({ dataFolder: folder });
    const openapi = await askRoute(server.url, 'openapi');
    faultsOf = strictReader(openapi.json);
    asked.add('openapi');
    const reading = (outlet: string, day: number, flowLpm: number) => ({
      outlet,
      flowLpm,
      pressureBar: flowLpm / 8,
      time: new Date(START_MS + day * 86_400_000).toISOString(),
    });
    const visits = ['kitchen tap', 'shower', 'bath', 'basin', 'garden tap', 'cloakroom'].flatMap((outlet, k) => [
      reading(outlet, 0.5, 6 + k / 2),
      reading(outlet, 1.5, 9 + k / 3),
    ]);
    for (const property of demoProperties())
      if (property.siteId !== 'demo-3-model-terrace')
        await build(
          property,
          property.siteId === 'demo-7-pattern-lane'
            ? {
                thresholds: { weakInletBar: 1.5 },
                pump: {
                  allowedHours: [8, 20],
                  mostStartsPerHour: 5,
                  startsLimitSource: 'nameplate',
                  usableLitres: 5,
                  vessel: { volumeL: 18, preChargeBar: 1.8 },
                  curve: [
                    { flowLpm: 0, headM: 36 },
                    { flowLpm: 32, headM: 3 },
                  ],
                },
                fitted: new Date(START_MS + 86_400_000).toISOString(),
                outletReadings: visits,
              }
            : {},
        );
  }, 120_000);
  afterAll(() => server.stop());

  const site = (name: string) => ({ id: sites.get(name)! });

  it('of sites, loggers and their settings', async () => {
    await well('listSites');
    await well('listSites', { query: { hidden: 'true' } });
    for (const id of sites.values()) await well('getSite', { params: { id } });
    await well('updateSite', { params: site('demo-21-pattern-lane'), body: { keepRawDays: 30_000, name: '21' } });
    await well('listLoggers', { query: { hidden: 'true' } });
    for (const { id } of await well('listLoggers')) await well('getLogger', { params: { id } });
    const params = { id: 'sample-row-12' };
    await well('addCalibration', {
      params,
      body: {
        points: [
          { readBar: 0, gaugeBar: 0.01 },
          { at: '2026-05-13T12:00:00Z', gaugeBar: 1.5 },
        ],
        note: 'by hand',
      },
    });
    await well('listCalibrations', { params });
    await well('renewLoggerKey', { params });
    await well('createLogger', {
      body: {
        id: 'raw',
        channels: [
          {
            channel: 'pressure',
            unit: 'V',
            rangeBar: [0, 10],
            accuracyBar: 0.1,
            intervalS: 1,
            endPoints: [
              { raw: 0.5, bar: 0 },
              { raw: 4.5, bar: 10 },
            ],
          },
        ],
      },
    });
    const mapping = {
      filter: 'raw/+/state',
      channels: [{ channel: 'pressure', entries: '/log', value: '/v', time: { pointer: '/t', form: 'unix_s' } }],
    };
    await well('updateLogger', { params: { id: 'raw' }, body: { mapping, heightAboveSupplyPointM: 1 } });
    await well('tryMapping', {
      params: { id: 'raw' },
      body: { mapping, messages: [{ topic: 'raw/1/state', payload: '{"log":[{"v":1.2,"t":1778400000},{"v":"x"}]}' }] },
    });
    expect((await well('getLogger', { params: { id: 'raw' } })).mapping).toEqual(mapping);
  });

  it('of what is found, with every kind of finding that these houses have', async () => {
    const seen = new Set<string>();
    for (const id of sites.values()) {
      const findings = await well('siteFindings', { params: { id } });
      for (const document of [findings, ...findings.others])
        for (const [key, value] of Object.entries(document))
          if (!Array.isArray(value) || value.length > 0) seen.add(key);
    }
    for (const { id } of await well('listLoggers')) await told('loggerFindings', { params: { id } });
    console.log(`kinds of findings held to the description: ${[...seen].sort().join(', ')}`);
    expect([...seen]).toEqual(
      expect.arrayContaining(
        'cycling draws faults fitting lowSupply pumpLitres pumpStarts pumpStates sags standing weakInlet'.split(' '),
      ),
    );
  });

  it('of findings that take longer than two days to show', async () => {
    const rare = {
      pumpTrends: [{ figure: 'cut_out', days: 20, perMonth: -0.1, p: 0.001 }],
      pumpCurve: { points: 40, headShare: 0.8, interval: [0.75, 0.85], verdict: 'below_its_curve' },
      changes: [
        {
          at: '2026-05-13T12:00:00Z',
          kind: 'booster',
          fromBar: 1.2,
          toBar: 2.9,
          sizeIntervalBar: [1.6, 1.8],
          timeInterval: ['2026-05-13T11:00:00Z', '2026-05-13T13:00:00Z'],
        },
      ],
      sagSummary: [
        {
          window: 'morning',
          days: 'weekdays',
          present: 5,
          judged: 5,
          unknown: 0,
          usualStartLocal: '07:05',
          usualEndLocal: '08:40',
          medianDepthBar: 0.8,
          depthRangeBar: [0.7, 0.9],
          inDoubt: 0,
          chance: { p: 1 / 32, test: 'McNemar', days: 5, onlyHere: 5, onlyMidday: 0 },
          daysToFirm: 0,
        },
      ],
      sagComparison: [{ window: 'morning', p: 1 / 21, test: 'Fisher', differ: true, weeksToTell: 0 }],
      weakInlet: [{ start: '2026-05-13T12:00:00Z', end: '2026-05-13T12:01:00Z', minBar: 0.1, pullBar: 0.4 }],
    } as const satisfies Partial<FindingsDocument>;
    const answer = await told('siteFindings', { params: site('demo-12-sample-row') });
    expect(faultsOf('siteFindings', { ...answer, json: { ...answer.json, ...rare } })).toEqual([]);
    expect(
      faultsOf('siteFindings', { ...answer, json: { ...answer.json, pumpCurve: { points: 'many' } } }),
    ).not.toEqual([]);
  });

  it('of letters', async () => {
    for (const format of ['pdf', 'html'])
      for (const id of sites.values()) await well('letter', { params: { id }, query: { format } });
  });

  it('of a record: in columns, as bytes and as CSV', async () => {
    const params = { id: 'pattern-lane-7-outlet' };
    for (const query of [
      {},
      { points: '50' },
      { channel: 'pump', points: '200' },
      { from: '2026-05-14T10:00:00Z', to: '2026-05-14T10:05:00Z', points: '2000' },
    ])
      await well('series', { params, query: query as Record<string, string> });
    for (const accept of ['application/vnd.mainsdiary.columns', 'text/csv'])
      await told('series', { params, query: { from: '2026-05-14T11:00:00Z' }, headers: { accept } });
  });

  it('of files and messages that can partly be read', async () => {
    const headers = { 'content-type': 'text/csv' };
    const body = 'time,pressure_bar\n2026-05-15T00:00:00Z,1\n2026-05-15T00:00:00Z,2\n2026-05-15T00:00:00Z,1\nx,y\n';
    const params = { id: 'pattern-lane-21' };
    await well('previewImport', { params, headers, body });
    await well('previewImport', { params, headers, body: 'when;what\n04/05/2026 06:30;1,5\n' });
    expect(await well('importSamples', { params, headers, body })).toMatchObject({ conflict: 1, refusedCount: 1 });
    expect((await told('importSamples', { params, headers, body: 'when;what\n04/05/2026 06:30;1,5\n' })).status).toBe(
      409,
    );
    const { key } = await well('renewLoggerKey', { params });
    const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${server.mqttPort}`, {
      username: params.id,
      password: key,
    });
    await client.publishAsync(`mainsdiary/${params.id}/pressure`, 'not a number', { qos: 1 });
    await client.publishAsync(`mainsdiary/${params.id}/pressure`, '1.25', { qos: 1 });
    await client.endAsync();
    expect(await well('loggerRefusals', { params })).toHaveLength(1);
    await well('unknownRefusals');
    expect((await well('getLogger', { params })).lastSample).not.toBeNull();
  });

  it('a key, a value or a kind of content that is not described would be seen', async () => {
    const answer = await askRoute(server.url, 'about');
    const faulty = (change: object) => faultsOf('about', { ...answer, json: { ...answer.json, ...change } });
    expect(faulty({})).toEqual([]);
    expect(faulty({ secret: 1 })).toHaveLength(1);
    expect(faulty({ disk: { ...answer.json.disk, secret: 1 } })).toHaveLength(1);
    expect(faulty({ version: 1 })).toHaveLength(1);
    expect(faulty({ nowMs: undefined })).toHaveLength(1);
    expect(faultsOf('about', { ...answer, headers: { 'content-type': 'text/html' } })).toHaveLength(1);
  });

  it('of the program itself', async () => {
    for (const id of ['health', 'about', 'metrics', 'getSession', 'recordCheck'] as const) await well(id);
    await well('startRecordCheck');
    await expect.poll(async () => (await well('recordCheck')).state, { timeout: 60_000 }).toBe('done');
    expect((await told('backup')).status).toBe(401);
    expect((await told('signIn', { body: { password: 'not that one' } })).status).toBe(401);
    const signedIn = await told('signIn', { body: { password: PASSWORD } });
    const cookie = signedIn.headers['set-cookie']![0]!.split(';')[0]!;
    expect((await told('backup', { headers: { cookie } })).status).toBe(200);
    await well('signOut');
  });

  it('of what goes wrong', async () => {
    for (const id of ROUTE_IDS) {
      if (id === 'live') continue;
      const answer = await told(id, { params: { id: 'nobody' }, query: { nothing: 'like this' }, body: { a: 1 } });
      expect(answer.status, id).toBeLessThan(500);
    }
  });

  it('and every route has been asked, down to the erasing', async () => {
    await well('deleteLogger', { params: { id: 'raw' } });
    await well('deleteLogger', { params: { id: 'raw' }, query: { erase: 'true' } });
    await well('deleteSite', { params: site('demo-21-pattern-lane') });
    expect(ROUTE_IDS.filter((id) => !asked.has(id) && id !== 'live').map((id) => ROUTES[id].path)).toEqual([]);
  });
});

/** A spike, a stretch that stands still, and one that is beyond the transducer's range. */
function withFaults(value: Float64Array, channel: Channel): Float64Array {
  if (channel !== 'pressure') return value;
  const out = value.slice();
  out[5000] = 9;
  out.fill(out[40_000]!, 40_000, 41_200);
  out.fill(99, 60_000, 60_060);
  return out;
}
