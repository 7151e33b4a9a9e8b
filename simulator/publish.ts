import mqtt from 'mqtt';
import type { Channel } from '../collector/model/channel.ts';
import { Problem } from '../collector/model/problem.ts';
import type { Rows } from './faults.ts';

export interface Publication {
  readonly brokerUrl: string;
  readonly loggerId: string;
  readonly key: string | undefined;
  readonly rows: Rows;
  /** When each row is due, ascending. */
  readonly arrivedMs: Float64Array;
  /** So many times real time; 1 publishes each sample alone at its moment. */
  readonly speed: number;
  readonly signal?: AbortSignal | undefined;
}

/** One connection of a logger: publishes with QoS 1 under its own topics and says whether it is there (the will). */
export interface LoggerConnection {
  /** Resolves when the broker has acknowledged. */
  publish(channel: Channel, samples: readonly { timeMs: number; value: number }[]): Promise<void>;
  readonly connected: boolean;
  end(): Promise<void>;
}

const RECONNECT_MS = 2000;
const CONNECT_WITHIN_MS = 15_000;
/** What a batch may hold, by the messages' contract. */
const MOST_SAMPLES = 3600;
/** How many acknowledgements may be outstanding: a logger's queue, not a flood. */
const MOST_IN_FLIGHT = 20;
/** Faster than real time a tick every so often, with all that has fallen due. */
const TICK_MS = 100;

/** Connects as a logger; rejects with Problem `broker_unreachable` where the broker isn't there or refuses the key. */
export async function connectLogger(
  brokerUrl: string,
  loggerId: string,
  key: string | undefined,
): Promise<LoggerConnection> {
  const topic = `mainsdiary/${loggerId}`;
  const client = mqtt.connect(brokerUrl, {
    clientId: `simulated-${loggerId}`,
    ...(key === undefined ? {} : { username: loggerId, password: key }),
    clean: true,
    reconnectPeriod: RECONNECT_MS,
    connectTimeout: CONNECT_WITHIN_MS,
    will: { topic: `${topic}/status`, payload: Buffer.from('offline'), qos: 1, retain: true },
  });
  await new Promise<void>((resolve, reject) => {
    const failed = (cause: unknown): void => {
      client.end(true);
      const reason = cause instanceof Error ? cause.message || cause.name : String(cause);
      reject(
        new Problem(
          'broker_unreachable',
          `No connection to the broker at ${withoutSecrets(brokerUrl)} as "${loggerId}": ${reason}`,
          'Check the address, that the logger exists and that its key is right.',
          { cause },
        ),
      );
    };
    client.once('error', failed);
    client.once('connect', () => {
      client.removeListener('error', failed);
      resolve();
    });
  });
  // Later faults mend themselves by reconnecting; without a listener they would end the process.
  client.on('error', () => {});
  const announce = (): void => {
    client.publish(`${topic}/status`, 'online', { qos: 1, retain: true }, () => {});
  };
  announce();
  client.on('connect', announce);
  return {
    async publish(channel, samples) {
      const text =
        samples.length === 1
          ? sampleText(samples[0]!.timeMs, samples[0]!.value)
          : `[${samples.map((sample) => sampleText(sample.timeMs, sample.value)).join(',')}]`;
      await client.publishAsync(`${topic}/${channel}`, text, { qos: 1 });
    },
    get connected() {
      return client.connected;
    },
    async end() {
      if (client.connected) await client.publishAsync(`${topic}/status`, 'offline', { qos: 1, retain: true });
      await client.endAsync();
    },
  };
}

/**
 * Publishes rows in their order of arrival at the given speed, each channel under its own topic; resolves with the number
 * of samples acknowledged when all are out or the signal came.
 */
export async function publishRows(publication: Publication): Promise<number> {
  const { rows, arrivedMs, speed, signal } = publication;
  const channels = (
    [
      ['pressure', rows.pressureBar],
      ['flow', rows.flowLpm],
      ['pump', rows.pumpOn],
    ] as const
  ).flatMap(([channel, column]) => (column ? [{ channel, column }] : []));
  const connection = await connectLogger(publication.brokerUrl, publication.loggerId, publication.key);
  let published = 0;
  const inFlight = new Set<Promise<void>>();
  try {
    const beganMs = performance.now();
    const dueOf = (row: number): number => arrivedMs[row]! - arrivedMs[0]!;
    let next = 0;
    while (next < rows.timeMs.length && !signal?.aborted) {
      const simulatedMs = (performance.now() - beganMs) * speed;
      let to = next;
      while (to < rows.timeMs.length && to - next < MOST_SAMPLES && dueOf(to) <= simulatedMs) to++;
      if (to === next) {
        await pause(Math.min(TICK_MS, Math.max(1, (dueOf(next) - simulatedMs) / speed)));
        continue;
      }
      for (const { channel, column } of channels) {
        const samples: { timeMs: number; value: number }[] = [];
        for (let i = next; i < to; i++) samples.push({ timeMs: rows.timeMs[i]!, value: rounded(column[i]!) });
        const sending = connection.publish(channel, samples).then(() => {
          published += samples.length;
          inFlight.delete(sending);
        });
        inFlight.add(sending);
        if (inFlight.size >= MOST_IN_FLIGHT) await Promise.race(inFlight);
      }
      next = to;
      if (speed > 1) await pause(TICK_MS / 10);
    }
    await Promise.all(inFlight);
  } finally {
    await connection.end();
  }
  return published;
}

function sampleText(timeMs: number, value: number): string {
  return `{"time":${timeMs},"value":${value}}`;
}

function rounded(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}

function withoutSecrets(url: string): string {
  return url.replace(/\/\/[^@/]*@/, '//');
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}
