import { afterAll, beforeAll, expect, it } from 'vitest';
import { systemClock } from '../../../api/system-clock.ts';
import { diskLife } from '../../../api/work/disk-life.ts';
import { askRoute } from './asking.ts';
import { type RunningServer, startServer } from './running-server.ts';

const HOUR_MS = 3_600_000;
const NOW_MS = Date.UTC(2026, 4, 14, 12);
const time = (atMs: number) => new Date(atMs).toISOString().replace('.000Z', 'Z');

let server: RunningServer;
let aheadMs = 0;
let site: string;
beforeAll(async () => {
  // A clock that stands still but for what the test adds; its timers run.
  const clock = {
    nowMs: () => NOW_MS + aheadMs,
    every: (_: number, action: () => void) => systemClock.every(20, action),
  };
  server = await startServer({}, { clock });
  site = (await asked('createSite', { body: { name: '12 Sample Row', timeZone: 'Europe/London' } })).id;
  await asked('createLogger', { body: { id: 'front-hall', site } });
  // Two days ending at noon, a reading every ten seconds.
  const rows = Array.from({ length: 17_280 }, (_, i) => {
    const atMs = NOW_MS - 48 * HOUR_MS + i * 10_000;
    return `${time(atMs)},${(3 + 0.2 * Math.sin(i / 300)).toFixed(3)}`;
  });
  const body = `time,pressure_bar\n${rows.join('\n')}\n`;
  const headers = { 'content-type': 'text/csv' };
  expect(await asked('importSamples', { params: { id: 'front-hall' }, headers, body })).toMatchObject({ erased: 0 });
});
afterAll(() => server.stop());

async function asked(id: Parameters<typeof askRoute>[1], asking: Parameters<typeof askRoute>[2] = {}) {
  const answer = await askRoute(server.url, id, asking);
  expect(answer.status, answer.text).toBeLessThan(300);
  return answer.json;
}
const logger = () => asked('getLogger', { params: { id: 'front-hall' } });
const series = (query: Record<string, string>) => asked('series', { params: { id: 'front-hall' }, query });

it('a site keeps single samples for good until it is told otherwise, and says what it does', async () => {
  expect(await asked('getSite', { params: { id: site } })).toMatchObject({ keepRawDays: null });
  for (const keepRawDays of [0, -1, 1.5, 40_000, 'one'])
    expect((await askRoute(server.url, 'updateSite', { params: { id: site }, body: { keepRawDays } })).status).toBe(
      400,
    );
  await expect.poll(async () => (await asked('health')).sealing).toBe(0);
  aheadMs += 61_000;
  expect((await logger()).extents[0]).toMatchObject({ count: 17_280, samplesFrom: null });
});

it('older ones go while the program runs; the chart keeps their minutes; findings, CSV and letter say so', async () => {
  const before = await series({ from: time(NOW_MS - 48 * HOUR_MS), to: time(NOW_MS), points: '2880' });
  expect(await asked('updateSite', { params: { id: site }, body: { keepRawDays: 1 } })).toMatchObject({
    keepRawDays: 1,
  });
  aheadMs += 61_000;
  const cut = time(NOW_MS - 24 * HOUR_MS);
  await expect.poll(async () => (await logger()).extents[0]).toMatchObject({ count: 17_280, samplesFrom: cut });

  expect(await series({ from: time(NOW_MS - 48 * HOUR_MS), to: time(NOW_MS), points: '2880' })).toEqual(before);
  const hour = await series({ from: time(NOW_MS - 40 * HOUR_MS), to: time(NOW_MS - 39 * HOUR_MS), points: '2000' });
  expect(hour).toMatchObject({ resolution: 'minute' });
  expect(hour.count).toEqual(Array.from({ length: 60 }, () => 6));
  const kept = await series({ from: time(NOW_MS - 4 * HOUR_MS), to: time(NOW_MS - 3 * HOUR_MS), points: '2000' });
  expect(kept).toMatchObject({ resolution: 'raw' });

  const csv = await askRoute(server.url, 'series', { params: { id: 'front-hall' }, headers: { accept: 'text/csv' } });
  expect(csv.headers['samples-from']).toBe(cut);
  expect(csv.text.split('\r\n')[1]).toMatch(new RegExp(`^${cut.slice(0, -1)}`));

  const findings = await asked('loggerFindings', { params: { id: 'front-hall' } });
  expect(findings.coverage).toMatchObject({
    expected: 8640,
    received: 8640,
    rawErased: [{ start: time(NOW_MS - 48 * HOUR_MS), end: cut }],
  });
  expect(findings.faults.filter((fault: { kind: string }) => fault.kind === 'gap')).toEqual([]);
  expect(findings.limits[0]).toMatch(/from 12 May 2026, 13:00 to 13 May 2026, 13:00 were erased by age/);
  const letter = await askRoute(server.url, 'letter', { params: { id: site }, query: { format: 'html' } });
  expect(letter.text).toContain('were erased by age');
  // Of a span that is erased as a whole nothing is said, least of all that nothing was found in it.
  const erasedDay = { from: time(NOW_MS - 44 * HOUR_MS), to: time(NOW_MS - 30 * HOUR_MS), format: 'html' };
  const ofErased = await askRoute(server.url, 'letter', { params: { id: site }, query: erasedDay });
  expect(ofErased.text).toContain('Nothing can be said of this span');
  expect(ofErased.text).not.toMatch(/Nothing was found|expected readings/);
});

it('late samples for what was erased are taken, counted and left out', async () => {
  const body = `time,pressure_bar\n${time(NOW_MS - 30 * HOUR_MS + 5000)},9\n${time(NOW_MS - 5000)},3.1\n`;
  const headers = { 'content-type': 'text/csv' };
  const report = await asked('importSamples', { params: { id: 'front-hall' }, headers, body });
  expect(report).toMatchObject({ rows: 2, stored: 1, erased: 1, duplicate: 0 });
  const metrics = await askRoute(server.url, 'metrics');
  expect(metrics.text).toMatch(/^mainsdiary_samples_erased_hours_total 1$/m);
});

it('what a logger takes and how long the disk lasts are told', async () => {
  aheadMs += 24 * HOUR_MS;
  // The weights are read anew after a moment.
  await expect.poll(async () => (await logger()).bytesPerDay, { timeout: 10_000 }).toBeGreaterThan(0);
  const [shown, about, health] = [await logger(), await asked('about'), await asked('health')];
  expect(shown.bytes).toBeGreaterThan(1000);
  expect(about.disk.freeBytes).toBeGreaterThan(0);
  expect(about.disk.daysLeft).toBe(Math.floor(about.disk.freeBytes / about.disk.bytesPerDay));
  expect(health).toMatchObject({ status: 'ok', disk: 'ok' });
});

it.each([
  ['plenty, at no known rate', { freeBytes: 1e9, bytesPerDay: undefined }, 'ok', null],
  ['plenty for years', { freeBytes: 1e9, bytesPerDay: 1e5 }, 'ok', 10_000],
  ['days that can be counted', { freeBytes: 1e9, bytesPerDay: 1e8 }, 'low', 10],
  ['hardly any, whatever the rate', { freeBytes: 1e8, bytesPerDay: 10 }, 'low', 10_000_000],
  ['a disk that does not say', { freeBytes: undefined, bytesPerDay: 1e9 }, 'ok', null],
] as const)('the disk is told as running full before it is: %s', (_name, store, state, daysLeft) => {
  const life = diskLife(store);
  expect(life).toMatchObject({ state, daysLeft });
  expect(life.message === undefined).toBe(state === 'ok');
});
