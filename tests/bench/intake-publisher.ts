import { spawn } from 'node:child_process';
import { connect } from 'node:net';
import { fileURLToPath } from 'node:url';

/*
 * A fast QoS 1 publisher on plain sockets, in a process of its own, so that it is not the publisher that is measured.
 * `node intake-publisher.js PORT CLIENTS MESSAGES SAMPLES WINDOW START_MS`: every client is a logger `bench-<n>` and
 * publishes MESSAGES batches of SAMPLES readings with their own times, at most WINDOW of them unacknowledged.
 */

export interface PublisherLoad {
  readonly port: number;
  readonly clients: number;
  readonly messages: number;
  readonly samples: number;
  readonly window: number;
  readonly startMs: number;
}

/** The bytes that are handed to a socket in one go. */
const PART_BYTES = 65_536;

/** Every logger of the bench has the same key. */
export const BENCH_KEY = 'key';

export function benchLogger(client: number): string {
  return `bench-${client}`;
}

/** Runs the publisher as a process of its own; resolves when every PUBACK is in. */
export function publishFromAnotherProcess(load: PublisherLoad): Promise<void> {
  const { port, clients, messages, samples, window, startMs } = load;
  const file = fileURLToPath(import.meta.url);
  const child = spawn(process.execPath, [file, ...[port, clients, messages, samples, window, startMs].map(String)], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  return new Promise((resolve, reject) => {
    child.once('exit', (code) => (code === 0 ? resolve() : reject(new Error(`the publisher ended with ${code}`))));
  });
}

function packetOf(firstByte: number, body: Buffer): Buffer {
  const head = [firstByte];
  for (let left = body.length; ; ) {
    const byte = left % 128;
    left = Math.floor(left / 128);
    head.push(left > 0 ? byte | 128 : byte);
    if (left === 0) break;
  }
  return Buffer.concat([Buffer.from(head), body]);
}

export function text(value: string): Buffer {
  const bytes = Buffer.from(value);
  return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 255]), bytes]);
}

/** CONNECT of MQTT 3.1.1 with a clean session, a user name and a password (section 3.1). */
export function connectPacket(name: string, key = BENCH_KEY, clientId = name): Buffer {
  const variable = Buffer.concat([text('MQTT'), Buffer.from([4, 0xc2, 0, 0])]);
  return packetOf(0x10, Buffer.concat([variable, text(clientId), text(name), text(key)]));
}

function batchOf(number: number, samples: number, startMs: number): string {
  let batch = '[';
  for (let i = 0; i < samples; i++) {
    const value = 4200 + ((number * 7 + i * 13) % 97) - 48;
    batch += `${i === 0 ? '' : ','}{"time":${startMs + (number * samples + i) * 1000},"value":${value / 1000}}`;
  }
  return `${batch}]`;
}

export function publishPacket(topic: Buffer, messageId: number, payload: string): Buffer {
  const id = Buffer.from([messageId >> 8, messageId & 255]);
  return packetOf(0x32, Buffer.concat([topic, id, Buffer.from(payload, 'latin1')]));
}

function publishAs(client: number, load: PublisherLoad): Promise<void> {
  const name = benchLogger(client);
  const topic = text(`mainsdiary/${name}/pressure`);
  return new Promise((resolve, reject) => {
    const socket = connect(load.port, '127.0.0.1');
    socket.setNoDelay(true);
    let sent = 0;
    let acknowledged = 0;
    let welcomed = false;
    let rest = 0;
    const send = (): void => {
      const parts: Buffer[] = [];
      let bytes = 0;
      while (sent < load.messages && sent - acknowledged < load.window && bytes < PART_BYTES) {
        const part = publishPacket(topic, (sent % 65_000) + 1, batchOf(sent, load.samples, load.startMs));
        parts.push(part);
        bytes += part.length;
        sent += 1;
      }
      if (parts.length > 0) socket.write(Buffer.concat(parts));
    };
    socket.once('connect', () => socket.write(connectPacket(name)));
    socket.on('data', (chunk) => {
      // CONNACK and PUBACK take four bytes each.
      rest += chunk.length;
      let packets = rest >> 2;
      rest &= 3;
      if (!welcomed && packets > 0) {
        welcomed = true;
        packets -= 1;
      }
      acknowledged += packets;
      if (acknowledged < load.messages) send();
      else {
        socket.end();
        resolve();
      }
    });
    socket.once('error', reject);
    socket.once('close', () => reject(new Error(`${name} was cut off after ${acknowledged} acknowledgements`)));
  });
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const [port, clients, messages, samples, window, startMs] = process.argv.slice(2).map(Number) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const load = { port, clients, messages, samples, window, startMs };
  await Promise.all(Array.from({ length: clients }, (_, client) => publishAs(client, load)));
}
