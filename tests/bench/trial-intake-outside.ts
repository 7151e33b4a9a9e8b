import { execFileSync } from 'node:child_process';
import { connect } from 'mqtt';
import { startBrokerSubscriber } from '../../collector/ingest/broker-subscriber.ts';
import { startMosquitto } from '../support/mosquitto.ts';
import { findProgram } from '../support/outside-programs.ts';
import { collectorWithLoggers, silent } from './intake-collector.ts';
import { publishFromAnotherProcess } from './intake-publisher.ts';
import { median, type TrialResult } from './trials.ts';

const CLIENTS = 20;
const MESSAGES = Number(process.env['MESSAGES'] ?? 100_000);
const SAMPLES = Number(process.env['SAMPLES'] ?? 10);
const WINDOW = 200;
const RUNS = Number(process.env['RUNS'] ?? 5);
const LINES = ['max_inflight_messages 1000', 'set_tcp_nodelay true', 'max_queued_bytes 0'];

/** A subscriber that throws every message away; the library acknowledges by itself. */
async function bareSubscriber(url: string): Promise<{ received(): number; stop(): Promise<void> }> {
  let received = 0;
  const client = connect(url, {
    clientId: 'bare',
    clean: true,
    protocolVersion: 5,
    properties: { receiveMaximum: 1000 },
  });
  client.on('message', () => {
    received += 1;
  });
  await new Promise<void>((resolve) => client.once('connect', () => resolve()));
  await client.subscribeAsync('mainsdiary/+/pressure', { qos: 1 });
  return { received: () => received, stop: () => client.endAsync() };
}

const turn = () => new Promise<void>((resolve) => setTimeout(resolve, 1));

/** Messages a second from the first to the last of them that `handled` counts. */
async function rate(port: number, startMs: number, handled: () => number): Promise<number> {
  const before = handled();
  const load = { port, clients: CLIENTS, messages: MESSAGES / CLIENTS, samples: SAMPLES, window: WINDOW, startMs };
  const publishing = publishFromAnotherProcess(load);
  while (handled() === before) await turn();
  const started = performance.now();
  while (handled() < before + MESSAGES) await turn();
  const ended = performance.now();
  await publishing;
  return MESSAGES / ((ended - started) / 1000);
}

// MOSQUITTO=<binary> measures with another broker than the one installed.
if (process.env['MOSQUITTO']) process.env['MAINSDIARY_TEST_MOSQUITTO'] = process.env['MOSQUITTO'];
const program = findProgram('mosquitto');
const version = program
  ? /version (\S+)/.exec(execFileSync('sh', ['-c', '"$1" -h || true', 'sh', program], { encoding: 'utf8' }))?.[1]
  : undefined;
const rates = { bare: [] as number[], ours: [] as number[] };
const { collector, end } = await collectorWithLoggers(CLIENTS);
// The first turn only warms the compiler. Every turn's samples are new ones, and every turn has a broker of its own.
for (let run = 0; run <= RUNS; run++) {
  const startMs = Date.UTC(2020, 0, 1) + run * MESSAGES * SAMPLES * 1000;
  const forBare = await startMosquitto({ lines: LINES });
  const bare = await bareSubscriber(forBare.url);
  const bareRate = await rate(forBare.port, startMs, bare.received);
  await bare.stop();
  await forBare.stop();
  const forOurs = await startMosquitto({ lines: LINES });
  const ours = startBrokerSubscriber({ url: forOurs.url, installation: 'bench', collector, log: silent });
  while (ours.health().state !== 'connected') await turn();
  const oursRate = await rate(forOurs.port, startMs, () => collector.counters().total.stored / SAMPLES);
  await ours.stop();
  await forOurs.stop();
  if (run === 0) continue;
  rates.bare.push(bareRate);
  rates.ours.push(oursRate);
}
const { stored, refused } = collector.counters().total;
if (stored !== (RUNS + 1) * MESSAGES * SAMPLES || refused > 0) throw new Error(`${stored} stored, ${refused} refused`);
await end();
process.stderr.write(
  `mosquitto ${version}: bare ${rates.bare.map(Math.round).join(' ')}, ours ${rates.ours.map(Math.round).join(' ')}\n`,
);
const result: TrialResult = {
  bare: median(rates.bare),
  ours: median(rates.ours),
  ...(version === undefined ? {} : { versions: { mosquitto: version } }),
};
console.log(JSON.stringify(result));
process.exit(0);
