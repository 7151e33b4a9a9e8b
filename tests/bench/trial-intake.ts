import { createServer, type Server } from 'node:net';
import { Aedes } from 'aedes';
import { startEmbeddedBroker } from '../../collector/ingest/embedded-broker.ts';
import { collectorWithLoggers, silent } from './intake-collector.ts';
import { publishFromAnotherProcess } from './intake-publisher.ts';
import { median, type TrialResult } from './trials.ts';

const CLIENTS = 20;
const MESSAGES = Number(process.env['MESSAGES'] ?? 100_000);
const SAMPLES = Number(process.env['SAMPLES'] ?? 10);
const WINDOW = 100;
const RUNS = Number(process.env['RUNS'] ?? 5);

/** The broker library alone, subscribed in the same process, throwing everything away. */
async function bareBroker(): Promise<{ port: number; received(): number; stop(): Promise<void> }> {
  const aedes = await Aedes.createBroker({ concurrency: 1000, queueLimit: 10_000 });
  let received = 0;
  aedes.subscribe(
    'mainsdiary/+/pressure',
    (_packet, done) => {
      received += 1;
      done();
    },
    () => {},
  );
  const server: Server = createServer(aedes.handle);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  return {
    port: typeof address === 'object' && address ? address.port : 0,
    received: () => received,
    stop: () => new Promise((resolve) => aedes.close(() => server.close(() => resolve()))),
  };
}

/** Messages a second from the first one that came to the last acknowledgement. */
async function rate(port: number, startMs: number, begun: () => boolean): Promise<number> {
  const publishing = publishFromAnotherProcess({
    port,
    clients: CLIENTS,
    messages: MESSAGES / CLIENTS,
    samples: SAMPLES,
    window: WINDOW,
    startMs,
  });
  let finished = false;
  const end = publishing.then(() => {
    finished = true;
    return performance.now();
  });
  while (!begun() && !finished) await new Promise((resolve) => setTimeout(resolve, 1));
  const started = performance.now();
  const cpu = process.cpuUsage();
  const r = MESSAGES / (((await end) - started) / 1000);
  const u = process.cpuUsage(cpu);
  if (process.env['CPU'])
    console.error(
      'cpu us/msg',
      (u.user / MESSAGES).toFixed(1),
      (u.system / MESSAGES).toFixed(1),
      'wall',
      (1e6 / r).toFixed(1),
    );
  return r;
}

const { collector, end } = await collectorWithLoggers(CLIENTS);
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
  const startMs = Date.UTC(2020, 0, 1) + run * MESSAGES * SAMPLES * 1000;
  const before = bare.received();
  const bareRate = await rate(bare.port, startMs, () => bare.received() > before);
  const storedBefore = collector.counters().total.messages;
  const oursRate = await rate(ours.port, startMs, () => collector.counters().total.messages > storedBefore);
  if (run === 0) continue;
  rates.bare.push(bareRate);
  rates.ours.push(oursRate);
}
const { stored, refused } = collector.counters().total;
if (stored !== (RUNS + 1) * MESSAGES * SAMPLES || refused > 0) throw new Error(`${stored} stored, ${refused} refused`);
await ours.stop();
await bare.stop();
await end();
process.stderr.write(`bare ${rates.bare.map(Math.round).join(' ')}, ours ${rates.ours.map(Math.round).join(' ')}\n`);
const result: TrialResult = { bare: median(rates.bare), ours: median(rates.ours) };
console.log(JSON.stringify(result));
process.exit(0);
