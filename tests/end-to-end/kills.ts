import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { type Mosquitto, startMosquitto } from '../support/mosquitto.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';
import { differences, type Load, startLoad } from './load-with-record.ts';

/** What became of the samples of one logger that published through all the kills. */
export interface KillAccount {
  readonly kills: number;
  /** Samples whose acknowledgement the logger holds. */
  readonly acknowledged: number;
  readonly stored: number;
  /** Acknowledged to the logger, and not in the record. */
  readonly lost: number;
  readonly doubled: number;
  /** Of the lost, those that the outside broker acknowledged and never delivered: it forgot them. */
  readonly forgottenByBroker: number;
  /** Further differences between what was sent and what is stored, in words. */
  readonly wrong: readonly string[];
}

export interface KillOptions {
  readonly kills: number;
  /** Of the moments at which is killed; told with a failure, so that it can be tried again. */
  readonly seed: number;
  readonly onKill?: (kill: number) => void;
}

const LOGGER = 'front-hall';
const SAMPLES_A_MESSAGE = 10;
/** Samples acknowledged before the next kill: at least so many, and up to so many more by chance. */
const BETWEEN_AT_LEAST = 100;
const BETWEEN_MORE = 2500;

/** What the README asks of an outside mosquitto, so that it keeps what it has acknowledged. */
export const KEEPING_LINES: readonly string[] = [
  'persistence true',
  'autosave_on_changes true',
  'autosave_interval 1',
  'max_queued_messages 0',
];

function numbersFrom(seed: number): () => number {
  // Lehmer's generator (Park and Miller 1988): enough to scatter moments.
  let state = seed % 2147483647;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

/** kill -9 of the whole program at random moments, while a logger publishes to it or to the broker it follows. */
export async function killProgram(broker: 'embedded' | 'outside', options: KillOptions): Promise<KillAccount> {
  const random = numbersFrom(options.seed);
  const mosquitto = broker === 'outside' ? await startMosquitto({ lines: ['max_inflight_messages 1000'] }) : undefined;
  const flags = mosquitto ? ['--broker', mosquitto.url] : [];
  let program = await startProgram({ flags });
  try {
    const key = await addLogger(program.base, await addSite(program.base), LOGGER);
    const load = await startLoad(mosquitto?.port ?? program.mqttPort, LOGGER, key);
    for (let kill = 1; kill <= options.kills; kill++) {
      await load.more(BETWEEN_AT_LEAST + Math.floor(random() * BETWEEN_MORE));
      await program.kill();
      const { folder, httpPort, mqttPort } = program;
      program = await startProgram({ folder, httpPort, mqttPort, flags });
      options.onKill?.(kill);
    }
    await load.stop();
    return await accountOf(program, load, options.kills);
  } finally {
    await program.stop();
    await mosquitto?.stop();
  }
}

/** kill -9 of the outside broker at random moments, while the program lives. */
export async function killBroker(options: KillOptions): Promise<KillAccount> {
  const random = numbersFrom(options.seed);
  const kept = mkdtempSync(join(tmpdir(), 'kept-by-broker-'));
  const lines = [...KEEPING_LINES, `persistence_location ${kept}/`, 'max_inflight_messages 1000'];
  let mosquitto: Mosquitto = await startMosquitto({ lines });
  const { port } = mosquitto;
  const program = await startProgram({ flags: ['--broker', mosquitto.url] });
  try {
    const key = await addLogger(program.base, await addSite(program.base), LOGGER);
    const load = await startLoad(port, LOGGER, key);
    for (let kill = 1; kill <= options.kills; kill++) {
      await load.more(BETWEEN_AT_LEAST + Math.floor(random() * BETWEEN_MORE));
      await mosquitto.kill();
      mosquitto = await startMosquitto({ lines, port });
      await eventually(
        async () => (await fetch(`${program.base}/api/health`)).status,
        (status) => status === 200,
      );
      options.onKill?.(kill);
    }
    await load.stop();
    return await accountOf(program, load, options.kills);
  } finally {
    await program.stop();
    await mosquitto.stop();
    rmSync(kept, { recursive: true, force: true });
  }
}

async function accountOf(program: RunningProgram, load: Load, kills: number): Promise<KillAccount> {
  // Behind an outside broker the last messages are acknowledged before they come to us.
  const counters = await settled(program.base);
  const stored = await exportedSamples(program.base, LOGGER);
  const times = new Set(stored.map(([time]) => time));
  const lost = [...load.acknowledged.keys()].filter((time) => !times.has(time)).length;
  // Whatever reached this process was stored or known; what is missing beyond that never came.
  const swallowed = Math.max(0, counters.messages * SAMPLES_A_MESSAGE - counters.taken);
  return {
    kills,
    acknowledged: load.acknowledged.size,
    stored: stored.length,
    lost,
    doubled: stored.length - times.size,
    forgottenByBroker: Math.max(0, lost - swallowed),
    wrong: lost === 0 ? differences(load, stored) : [],
  };
}

interface Taken {
  readonly messages: number;
  /** Samples stored or there already. */
  readonly taken: number;
}

/** The program's counters once nothing comes any more. */
async function settled(base: string): Promise<Taken> {
  let before = -1;
  let alike = 0;
  return eventually(
    async () => {
      const text = await (await fetch(`${base}/metrics`)).text();
      const read = (name: string) => Number(new RegExp(`^mainsdiary_${name} (\\S+)$`, 'm').exec(text)?.[1] ?? 0);
      const taken = read('samples_stored_total') + read('samples_duplicate_total') + read('samples_conflict_total');
      alike = taken === before ? alike + 1 : 0;
      before = taken;
      return { messages: read('messages_total'), taken };
    },
    ({ messages, taken }) => alike >= 20 && messages * SAMPLES_A_MESSAGE <= taken,
  );
}

/** One line for people. */
export function killLine(what: string, account: KillAccount): string {
  const { kills, acknowledged, stored, lost, doubled, forgottenByBroker, wrong } = account;
  const forgotten = forgottenByBroker > 0 ? ` (${forgottenByBroker} of them forgotten by the broker)` : '';
  const more = wrong.length > 0 ? `; ${wrong.join('; ')}` : '';
  return `${what}, ${kills} kills: ${acknowledged} samples acknowledged, ${stored} stored, ${lost} lost${forgotten}, ${doubled} doubled${more}`;
}
