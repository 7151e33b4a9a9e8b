import { mkdtempSync, rmSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { Aedes } from 'aedes';
import { systemClock } from '../../api/system-clock.ts';
import { createCollector } from '../../collector/collector.ts';
import { startEmbeddedBroker } from '../../collector/ingest/embedded-broker.ts';
import { openSqliteStore } from '../../collector/store/sqlite/open-store.ts';
import { median, type TrialResult } from './trials.ts';

const MESSAGES = 20_000;
const RUNS = 5;
const IN_FLIGHT = 200;
const silent = { info() {}, warn() {}, error() {} };

/** Publishes from a thread of its own, so that the publisher's work is not counted against the broker's core. */
const PUBLISHER = `
const { workerData, parentPort } = require('node:worker_threads');
const mqtt = require('mqtt');
const client = mqtt.connect('mqtt://127.0.0.1:' + workerData.port, { username: 'bench', password: 'key', clientId: 'bench' });
client.on('connect', () => {
  const started = performance.now();
  let sent = 0, done = 0;
  const push = () => {
    while (sent < workerData.messages && sent - done < workerData.inFlight) {
      const at = workerData.startMs + sent * 10000;
      const batch = Array.from({ length: 10 }, (_, i) => ({ time: at + i * 1000, value: 1.5 + ((sent + i) % 50) / 1000 }));
      sent += 1;
      client.publish('mainsdiary/bench/pressure', JSON.stringify(batch), { qos: 1 }, () => {
        done += 1;
        if (done === workerData.messages) { parentPort.postMessage(performance.now() - started); client.end(true); }
        else push();
      });
    }
  };
  push();
});
`;

function publish(port: number, startMs: number): Promise<number> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(PUBLISHER, {
      eval: true,
      workerData: { port, messages: MESSAGES, inFlight: IN_FLIGHT, startMs },
    });
    worker.once('message', (ms: number) => resolve(MESSAGES / (ms / 1000)));
    worker.once('error', reject);
  });
}

async function bareBroker(): Promise<{ port: number; stop(): Promise<void> }> {
  const aedes = await Aedes.createBroker();
  aedes.subscribe(
    'mainsdiary/#',
    (_packet, done) => done(),
    () => {},
  );
  const server: Server = createServer(aedes.handle);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  return {
    port: typeof address === 'object' && address ? address.port : 0,
    stop: () => new Promise((resolve) => aedes.close(() => server.close(() => resolve()))),
  };
}

const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-intake-'));
const store = await openSqliteStore({ folder, clock: systemClock });
await store.putLogger({ id: 'bench', createdMs: Date.now(), keySha256: '0'.repeat(64) });
await store.addChannelSetting({ loggerId: 'bench', channel: 'pressure', fromMs: 0, unit: 'bar' });
const collector = createCollector({ store, clock: systemClock, log: silent });
const ours = await startEmbeddedBroker({
  host: '127.0.0.1',
  port: 0,
  tls: undefined,
  collector,
  authenticate: async () => true,
  log: silent,
});
const bare = await bareBroker();
const rates = { bare: [] as number[], ours: [] as number[] };
// The first turn only warms the compiler. Every turn's samples are new ones: a repeated sample would cost less.
for (let run = 0; run <= RUNS; run++) {
  const startMs = Date.UTC(2020, 0, 1) + run * MESSAGES * 10_000;
  const bareRate = await publish(bare.port, startMs);
  const oursRate = await publish(ours.port, startMs);
  if (run > 0) {
    rates.bare.push(bareRate);
    rates.ours.push(oursRate);
  }
}
await ours.stop();
await bare.stop();
await collector.stop();
await store.close();
rmSync(folder, { recursive: true });
const result: TrialResult = { bare: median(rates.bare), ours: median(rates.ours) };
console.log(JSON.stringify(result));
process.exit(0);
