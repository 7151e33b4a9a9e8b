import { connectAsync, type MqttClient } from 'mqtt';

const START_MS = Date.UTC(2026, 4, 4, 5, 30);
/** Messages under way at once; each holds ten samples with their own times. */
const WINDOW = 50;

/** A logger that publishes as fast as it is acknowledged, and remembers what was. */
export interface Load {
  /** Time → value of every sample acknowledged so far. */
  readonly acknowledged: ReadonlyMap<number, number>;
  /** What was ever sent under a time. */
  readonly sent: ReadonlyMap<number, number>;
  /** Resolves once that many more samples than now are acknowledged. */
  more(samples: number): Promise<void>;
  /** Goes away at once, whatever is under way. */
  leave(): void;
  /** Publishes no more, and waits until everything under way is acknowledged. */
  stop(): Promise<void>;
}

/** `onAcknowledged` is told of each batch's times as soon as its acknowledgement has come. */
export async function startLoad(
  mqttPort: number,
  logger: string,
  key: string,
  onAcknowledged: (times: readonly number[]) => void = () => undefined,
): Promise<Load> {
  const client: MqttClient = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`, {
    username: logger,
    password: key,
    clientId: logger,
    clean: false,
    reconnectPeriod: 50,
  });
  client.on('error', () => {});
  const acknowledged = new Map<number, number>();
  const sent = new Map<number, number>();
  let waiting = 0;
  let sending = true;
  let next = 0;

  function publishOne(): void {
    const batch = Array.from({ length: 10 }, () => {
      const time = START_MS + next * 1000;
      const value = Math.round(1500 + 200 * Math.sin(next / 50)) / 1000;
      next += 1;
      return { time, value };
    });
    for (const { time, value } of batch) sent.set(time, value);
    waiting += 1;
    client.publish(`mainsdiary/${logger}/pressure`, JSON.stringify(batch), { qos: 1 }, (error) => {
      waiting -= 1;
      if (error) return;
      for (const { time, value } of batch) acknowledged.set(time, value);
      onAcknowledged(batch.map(({ time }) => time));
    });
  }

  const publisher = (async () => {
    while (sending) {
      if (waiting < WINDOW) publishOne();
      await new Promise((resolve) => setTimeout(resolve, waiting < WINDOW ? 0 : 2));
    }
  })();

  return {
    acknowledged,
    sent,
    async more(samples) {
      const enough = acknowledged.size + samples;
      while (acknowledged.size < enough) await new Promise((resolve) => setTimeout(resolve, 1));
    },
    leave() {
      sending = false;
      client.end(true);
    },
    async stop() {
      sending = false;
      if (client.disconnecting) return;
      await publisher;
      while (waiting > 0) await new Promise((resolve) => setTimeout(resolve, 5));
      await client.endAsync();
    },
  };
}

/** What is wrong with a record beside what was acknowledged; empty where nothing is. */
export function differences(load: Load, stored: readonly (readonly [number, number])[]): string[] {
  const found = new Map(stored);
  const wrong: string[] = [];
  if (found.size !== stored.length) wrong.push(`${stored.length - found.size} samples are stored twice`);
  const lost = [...load.acknowledged].filter(([time, value]) => found.get(time) !== value);
  if (lost.length > 0) wrong.push(`${lost.length} acknowledged samples are missing or differ`);
  const invented = stored.filter(([time, value]) => load.sent.get(time) !== value);
  if (invented.length > 0) wrong.push(`${invented.length} samples were never sent`);
  return wrong;
}
