import { afterAll, beforeAll, expect, it } from 'vitest';
import { askRoute } from './asking.ts';
import { type RunningServer, startServer } from './running-server.ts';

let server: RunningServer;
let site: string;
beforeAll(async () => {
  server = await startServer({});
  site = (await askRoute(server.url, 'createSite', { body: { name: '21 Sample Row', timeZone: 'Europe/London' } })).json
    .id;
});
afterAll(() => server.stop());

const change = (body: Record<string, unknown>) => askRoute(server.url, 'updateSite', { params: { id: site }, body });

const PUMP = {
  allowedHours: [6, 22],
  mostStartsPerHour: 20,
  startsLimitSource: 'nameplate',
  usableLitres: 2.4,
  vessel: { volumeL: 8, preChargeBar: 1.8 },
};
const READINGS = [
  { outlet: 'kitchen tap', time: '2026-05-11T09:00:00Z', flowLpm: 6.5 },
  { outlet: 'kitchen tap', time: '2026-05-13T09:00:00Z', flowLpm: 9.1, pressureBar: 2.2 },
];

it('a site tells nothing of a pump until it is told, keeps what it was told, and takes it back', async () => {
  const bare = await askRoute(server.url, 'getSite', { params: { id: site } });
  expect(bare.json).toMatchObject({ pump: null, fitted: null, outletReadings: [] });
  const fitted = '2026-05-12T10:00:00Z';
  const told = await change({ pump: PUMP, fitted, outletReadings: READINGS });
  expect(told.json).toMatchObject({ pump: PUMP, fitted, outletReadings: READINGS });
  expect((await change({ name: '21 Sample Row, rear' })).json).toMatchObject({ pump: PUMP, outletReadings: READINGS });
  const curve = [
    { flowLpm: 0, headM: 24 },
    { flowLpm: 24, headM: 8 },
  ];
  const withCurve = (await change({ pump: { ...PUMP, curve } })).json.pump.curve;
  expect(withCurve[0].headM).toBeCloseTo(24, 9);
  expect(withCurve[1].headM).toBeCloseTo(8, 9);
  expect((await change({ pump: null, fitted: null, outletReadings: [] })).json).toMatchObject({
    pump: null,
    fitted: null,
    outletReadings: [],
  });
});

it.each([
  ['hours out of the day', { pump: { allowedHours: [6, 25] } }],
  ['hours that allow nothing', { pump: { allowedHours: [6, 6] } }],
  ['no starts at all', { pump: { mostStartsPerHour: 0 } }],
  [
    'a curve that goes back',
    {
      pump: {
        curve: [
          { flowLpm: 9, headM: 8 },
          { flowLpm: 1, headM: 9 },
        ],
      },
    },
  ],
  ['a reading without a name', { outletReadings: [{ outlet: ' ', time: '2026-05-11T09:00:00Z', flowLpm: 6 }] }],
  ['a reading without a time', { outletReadings: [{ outlet: 'bath', flowLpm: 6 }] }],
  ['too many readings', { outletReadings: Array.from({ length: 201 }, () => READINGS[0]) }],
  ['a date that is none', { fitted: 'yesterday' }],
])('refuses %s', async (_, body) => {
  expect((await change(body)).status).toBe(400);
});
