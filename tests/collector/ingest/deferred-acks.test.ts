import { type AddressInfo, createServer, type Server, type Socket } from 'node:net';
import mqtt, { type MqttClient } from 'mqtt';
import { afterEach, describe, expect, test } from 'vitest';
import { type AckingClient, deferAcks } from '../../../collector/ingest/deferred-acks.ts';
import { until } from './collector-under-test.ts';

/*
 * The way acknowledgements are kept back leans on what mqtt.js doesn't document: called back with an error,
 * `handleMessage` sends no PUBACK, raises nothing and goes on. A broker of a few lines shows whether that still holds.
 */

/** A broker that answers CONNECT, sends what it is told and notes each PUBACK's identifier. */
class NotingBroker {
  readonly acknowledged: number[] = [];
  connections = 0;
  socket: Socket | undefined;
  #server: Server | undefined;

  async listen(version: 4 | 5): Promise<number> {
    this.#server = createServer((socket) => {
      this.socket = socket;
      this.connections += 1;
      let buffered = Buffer.alloc(0);
      socket.on('error', () => undefined);
      socket.on('data', (chunk) => {
        buffered = Buffer.concat([buffered, chunk]);
        while (buffered.length >= 2 && buffered.length >= 2 + buffered[1]!) {
          const packet = buffered.subarray(0, 2 + buffered[1]!);
          buffered = buffered.subarray(packet.length);
          if (packet[0] === 0x10) socket.write(Buffer.from(version === 5 ? [0x20, 3, 1, 0, 0] : [0x20, 2, 1, 0]));
          if (packet[0] === 0x40) this.acknowledged.push(packet.readUInt16BE(2));
        }
      });
    });
    await new Promise<void>((resolve) => this.#server!.listen(0, '127.0.0.1', resolve));
    return (this.#server!.address() as AddressInfo).port;
  }

  /** PUBLISH at QoS 1, MQTT 3.1.1 section 3.3 (MQTT 5 has an empty list of properties more). */
  publish(version: 4 | 5, ids: Iterable<number>, duplicate = false): void {
    const packets = [...ids].map((id) => {
      const body = Buffer.concat([
        Buffer.from([0, 1, 0x74, id >> 8, id & 0xff]),
        Buffer.from(version === 5 ? [0] : []),
        Buffer.from(String(id)),
      ]);
      return Buffer.concat([Buffer.from([duplicate ? 0x3a : 0x32, body.length]), body]);
    });
    this.socket!.write(Buffer.concat(packets));
  }

  async stop(): Promise<void> {
    this.socket?.destroy();
    await new Promise((resolve) => this.#server!.close(resolve));
  }
}

const range = (from: number, to: number) => Array.from({ length: to - from + 1 }, (_, i) => from + i);

describe.each([4, 5] as const)('mqtt.js, protocol version %d', (version) => {
  let broker: NotingBroker;
  let client: MqttClient;
  const errors: Error[] = [];

  async function start(reconnectPeriod = 0): Promise<void> {
    broker = new NotingBroker();
    errors.length = 0;
    const port = await broker.listen(version);
    client = mqtt.connect({
      host: '127.0.0.1',
      port,
      clean: false,
      clientId: 'x',
      protocolVersion: version,
      reconnectPeriod,
    });
    client.on('error', (error) => errors.push(error));
  }
  const connected = () => until(() => client.connected, 'connected');

  afterEach(async () => {
    await client.endAsync(true);
    await broker.stop();
  });

  test('sends no acknowledgement before the commit, and then all in order of arrival', async () => {
    await start();
    const waiting: (() => void)[] = [];
    const acks = deferAcks(client as unknown as AckingClient, {
      windowMessages: 5000,
      windowBytes: 1e9,
      take: (_packet, taken) => waiting.push(() => taken(undefined)),
      onRefused: () => undefined,
    });
    await connected();
    broker.publish(version, range(1, 1000));
    await until(() => waiting.length === 1000, 'all messages taken');
    expect(broker.acknowledged).toEqual([]);
    expect(acks.outstanding()).toBe(1000);
    // Commits end in any order; the first message's comes last.
    for (const resolve of waiting.slice(1)) resolve();
    await new Promise((resolve) => setImmediate(() => setImmediate(resolve)));
    expect(broker.acknowledged).toEqual([]);
    waiting[0]!();
    await until(() => broker.acknowledged.length === 1000, 'all acknowledged');
    expect(broker.acknowledged).toEqual(range(1, 1000));
    expect(acks.outstanding()).toBe(0);
    expect(errors).toEqual([]);
  });

  test('left alone acknowledges by itself: the control', async () => {
    await start();
    await connected();
    broker.publish(version, range(1, 50));
    await until(() => broker.acknowledged.length === 50, 'acknowledged without being asked');
  });

  test('takes no more than the window, whatever the broker sends', async () => {
    await start();
    const waiting: (() => void)[] = [];
    deferAcks(client as unknown as AckingClient, {
      windowMessages: 100,
      windowBytes: 1e9,
      take: (_packet, taken) => waiting.push(() => taken(undefined)),
      onRefused: () => undefined,
    });
    await connected();
    broker.publish(version, range(1, 300));
    await until(() => waiting.length === 100, 'the window is full');
    for (let done = 0; done < 300; ) {
      expect(waiting.length - done).toBeLessThanOrEqual(100);
      waiting[done]!();
      done += 1;
      await until(() => broker.acknowledged.length === done, `acknowledged ${done}`);
      if (done < 201) await until(() => waiting.length === done + 100, 'the next one is taken');
    }
    expect(broker.acknowledged).toEqual(range(1, 300));
  });

  test('never acknowledges on a new connection what came on an old one', async () => {
    await start(10);
    const waiting: (() => void)[] = [];
    deferAcks(client as unknown as AckingClient, {
      windowMessages: 1000,
      windowBytes: 1e9,
      take: (_packet, taken) => waiting.push(() => taken(undefined)),
      onRefused: () => undefined,
    });
    await connected();
    broker.publish(version, range(1, 10));
    await until(() => waiting.length === 10, 'taken on the first connection');
    broker.socket!.destroy();
    await until(() => broker.connections === 2 && client.connected, 'connected again');
    broker.publish(version, range(1, 3), true);
    await until(() => waiting.length === 13, 'delivered again');
    for (const resolve of waiting.slice(0, 10)) resolve();
    await new Promise((resolve) => setImmediate(() => setImmediate(resolve)));
    expect(broker.acknowledged).toEqual([]);
    for (const resolve of waiting.slice(10)) resolve();
    await until(() => broker.acknowledged.length === 3, 'the new ones are acknowledged');
    expect(broker.acknowledged).toEqual([1, 2, 3]);
  });

  test('leaves unacknowledged what could not be stored, and tells', async () => {
    await start();
    let refused = 0;
    deferAcks(client as unknown as AckingClient, {
      windowMessages: 1000,
      windowBytes: 1e9,
      take: (packet, taken) => taken(packet.messageId === 3 ? { error: new Error('the disk is full') } : undefined),
      onRefused: () => {
        refused += 1;
      },
    });
    await connected();
    broker.publish(version, range(1, 5));
    await until(() => refused === 1 && broker.acknowledged.length === 2, 'the first two');
    expect(broker.acknowledged).toEqual([1, 2]);
  });
});
