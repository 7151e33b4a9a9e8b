import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import type { Socket } from 'node:net';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { CHANNELS } from '../../collector/model/channel.ts';
import { addLogger, addSite } from '../support/api.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';
import {
  closed,
  connectPacket,
  DISCONNECT,
  followPackets,
  openSocket,
  PINGREQ,
  packet,
  publishPacket,
  subscribePacket,
} from '../support/raw-mqtt.ts';
import { hostilePayload, mutated, type Random, randomFrom } from './hostile-corpus.ts';

/** HOSTILE_MESSAGES=1000000 asks for a tenth of it through sockets. */
const PUBLISHES = Math.floor(Number(process.env['HOSTILE_MESSAGES'] ?? 100_000) / 10);
const BROKEN = Math.floor(PUBLISHES / 5);
const SEED = 20260508;
const LIMIT_MS = 180_000 + PUBLISHES * 10;
const LOGGERS = 20;
/** Connections at once, and messages of one that are not acknowledged. */
const CONNECTIONS = 20;
const WINDOW = 100;
const PAYLOAD_LIMIT_BYTES = 256 * 1024 + 500;

let program: RunningProgram;
const keys = new Map<string, string>();
beforeAll(async () => {
  program = await startProgram();
  const site = await addSite(program.base);
  for (let i = 0; i < LOGGERS; i++) keys.set(`logger-${i}`, await addLogger(program.base, site, `logger-${i}`));
});
afterAll(() => program?.kill());
const sockets: Socket[] = [];
afterEach(() => {
  for (const socket of sockets.splice(0)) socket.destroy();
});

const residentMb = (): number =>
  Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${program.process.pid}/status`, 'utf8'))![1]) / 1000;

async function counter(name: string): Promise<number> {
  const text = await (await fetch(`${program.base}/metrics`)).text();
  return Number(new RegExp(`^${name}\\S* (\\d+)`, 'm').exec(text)?.[1] ?? Number.NaN);
}

async function expectWell(): Promise<void> {
  expect(program.process.exitCode).toBeNull();
  const { status } = await fetch(`${program.base}/api/health`);
  expect(status).toBe(200);
}

/** Another machine of the loopback network for each so many connections: an address that offends is made to wait. */
function addressFor(n: number): string {
  const machine = Math.floor(n / 20) + 2;
  return `127.${1 + ((machine >> 16) & 63)}.${(machine >> 8) & 255}.${machine & 255}`;
}

async function signedIn(
  loggerId: string,
  address: string,
): Promise<{ socket: Socket; onPacket: Set<(first: number, body: Buffer) => void> }> {
  const socket = openSocket(program.mqttPort, address);
  sockets.push(socket);
  const onPacket = new Set<(first: number, body: Buffer) => void>();
  followPackets(socket, (first, body) => {
    for (const listener of onPacket) listener(first, body);
  });
  await new Promise<void>((resolve, reject) => {
    onPacket.add((first, body) => {
      if (first === 0x20) body[1] === 0 ? resolve() : reject(new Error(`CONNACK ${body[1]}`));
    });
    socket.once('close', () => reject(new Error('closed before CONNACK')));
    socket.write(connectPacket(`${loggerId}-${address}-${Math.random()}`, loggerId, keys.get(loggerId)!));
  });
  return { socket, onPacket };
}

/** Publishes on one connection, so many messages, each QoS 1 one awaited. */
async function flood(
  loggerId: string,
  messages: number,
  random: Random,
  address: string,
): Promise<{ sent: number; acknowledged: number }> {
  const { socket, onPacket } = await signedIn(loggerId, address);
  let sent = 0;
  let asked = 0;
  let acknowledged = 0;
  await new Promise<void>((resolve, reject) => {
    socket.once('close', () => reject(new Error(`closed after ${sent} messages`)));
    function more(): void {
      while (sent < messages && asked - acknowledged < WINDOW) {
        const qos = sent === messages - 1 || random() < 0.9 ? 1 : 0;
        const channel = [...CHANNELS, 'nothing', '__proto__', 'pressure/x', '\u202e'][Math.floor(random() * 10)]!;
        const payload = hostilePayload(random).subarray(0, PAYLOAD_LIMIT_BYTES);
        sent += 1;
        if (qos === 1) asked += 1;
        const flags = { qos, id: (sent % 65_535) + 1, duplicate: random() < 0.1, retain: random() < 0.1 } as const;
        socket.write(publishPacket(`mainsdiary/${loggerId}/${channel}`, payload, flags));
      }
      if (sent === messages && acknowledged === asked) resolve();
    }
    onPacket.add((first) => {
      if (first === 0x40) {
        acknowledged += 1;
        more();
      }
    });
    more();
  });
  socket.removeAllListeners('close');
  socket.end(DISCONNECT);
  await closed(socket);
  return { sent, acknowledged: asked };
}

describe('hostile clients at the embedded broker', () => {
  it(
    `${PUBLISHES} hostile messages over sockets (seed ${SEED}): every QoS 1 is acknowledged, all are counted, memory stays`,
    async () => {
      const random = randomFrom(SEED);
      const before = await counter('mainsdiary_messages_total');
      const share = Math.ceil(PUBLISHES / LOGGERS / 5);
      const memory: number[] = [];
      let sent = 0;
      for (let round = 0; round < 5; round++) {
        const done = await Promise.all(
          [...keys.keys()].map((loggerId, i) => flood(loggerId, share, random, addressFor(round * LOGGERS + i))),
        );
        sent += done.reduce((sum, each) => sum + each.sent, 0);
        memory.push(residentMb());
      }
      expect((await counter('mainsdiary_messages_total')) - before).toBe(sent);
      await expectWell();
      expect(memory.at(-1)!).toBeLessThan(memory[1]! * 1.25 + 60);
      console.log(`${sent} messages over sockets, resident ${memory.map((mb) => mb.toFixed(0)).join(', ')} MB`);
    },
    LIMIT_MS,
  );

  it(
    `${BROKEN} connections with packets broken at every byte (seed ${SEED}): none ends the program, memory stays`,
    async () => {
      const random = randomFrom(SEED);
      const ids = [...keys.keys()];
      const whole = (loggerId: string): Buffer[] => [
        connectPacket('a client', loggerId, keys.get(loggerId)!, {
          topic: `mainsdiary/${loggerId}/status`,
          payload: 'offline',
        }),
        publishPacket(`mainsdiary/${loggerId}/pressure`, Buffer.from('1.5'), { id: 7 }),
        subscribePacket(8, [`mainsdiary/${loggerId}/#`]),
        publishPacket(`mainsdiary/${loggerId}/pressure`, Buffer.from('1.6'), { qos: 2, id: 9 }),
        packet(0x62, Buffer.of(0, 9)),
        packet(0xa2, Buffer.concat([Buffer.of(0, 10, 0, 1), Buffer.from('x')])),
        PINGREQ,
        DISCONNECT,
      ];
      const memory: number[] = [];
      let next = 0;
      async function breakOne(): Promise<void> {
        const n = next++;
        const packets = whole(ids[n % ids.length]!);
        // Every packet in turn, every byte of it in turn; then changes of any kind.
        const which = n % packets.length;
        const target = packets[which]!;
        const at = Math.floor(n / packets.length) % target.length;
        const broken =
          n % 3 === 0
            ? mutated(target, packets, random)
            : Buffer.from(target).fill(Math.floor(random() * 256), at, at + 1);
        const bytes = Buffer.concat([...packets.slice(0, which), broken, ...packets.slice(which + 1)]);
        const socket = openSocket(program.mqttPort, addressFor(100_000 + n));
        sockets.push(socket);
        socket.resume();
        // In one piece, or cut in two where a parser may be caught in the midst.
        const cut = Math.floor(random() * bytes.length);
        socket.write(bytes.subarray(0, cut));
        socket.end(bytes.subarray(cut));
        await closed(socket);
        sockets.splice(sockets.indexOf(socket), 1);
      }
      for (let quarter = 1; quarter <= 4; quarter++) {
        await Promise.all(
          Array.from({ length: CONNECTIONS }, async () => {
            while (next < (BROKEN * quarter) / 4) await breakOne();
          }),
        );
        memory.push(residentMb());
      }
      await expectWell();
      expect(memory.at(-1)!).toBeLessThan(memory[1]! * 1.25 + 60);
      console.log(`${next} broken connections, resident ${memory.map((mb) => mb.toFixed(0)).join(', ')} MB`);
    },
    LIMIT_MS,
  );

  it(
    'what a client may ask to be kept for it is bounded: subscriptions, QoS 2 without end, a reader that never reads',
    async () => {
      const before = residentMb();
      const figures: Record<string, number> = {};

      const greedy = await signedIn('logger-0', addressFor(900_000));
      const long = 'x'.repeat(100);
      const given = { granted: 0, refused: 0 };
      greedy.onPacket.add((first, body) => {
        // SUBACK: one code a filter, 0x80 where it is refused (section 3.9.3).
        if (first === 0x90) for (const code of body.subarray(2)) given[code === 0x80 ? 'refused' : 'granted'] += 1;
      });
      for (let id = 1; id <= 100; id++) {
        const filters = Array.from({ length: 1000 }, (_, i) => `mainsdiary/logger-0/${id}/${i}/${long}`);
        greedy.socket.write(subscribePacket(id, filters));
        await eventually(
          async () => given.granted + given.refused,
          (answered) => answered === id * 1000,
        );
      }
      expect(given.granted).toBeLessThanOrEqual(32);
      figures['100,000 subscriptions'] = residentMb() - before;

      const halfWay = await signedIn('logger-1', addressFor(900_100));
      for (let id = 1; id <= 400 && !halfWay.socket.destroyed; id++) {
        const message = publishPacket('mainsdiary/logger-1/pressure', Buffer.alloc(250_000, 0x31), { qos: 2, id });
        if (!halfWay.socket.write(message))
          await Promise.race([once(halfWay.socket, 'drain'), closed(halfWay.socket)]).catch(() => undefined);
      }
      figures['100 MB of QoS 2'] = residentMb() - before;

      const deaf = await signedIn('logger-2', addressFor(900_200));
      await new Promise<void>((resolve) => {
        deaf.onPacket.add((first) => first === 0x90 && resolve());
        deaf.socket.write(subscribePacket(1, ['mainsdiary/logger-2/#']));
      });
      deaf.socket.pause();
      const speaker = await signedIn('logger-2', addressFor(900_300));
      let acknowledged = 0;
      speaker.onPacket.add((first) => {
        if (first === 0x40) acknowledged += 1;
      });
      const large = Buffer.from(`[${'{"value":1.5},'.repeat(15_000)}{"value":1}]`).subarray(0, 200_000);
      for (let id = 1; id <= 1000; id++) {
        speaker.socket.write(publishPacket('mainsdiary/logger-2/pressure', large, { id }));
        await eventually(
          async () => acknowledged,
          (count) => count >= id - 20 || speaker.socket.destroyed,
        );
      }
      figures['200 MB for a reader that never reads'] = residentMb() - before;
      // What was on its way is read, then the end.
      deaf.socket.resume();
      await closed(deaf.socket);
      await expectWell();
      console.log(`resident more than before, MB: ${JSON.stringify(figures)}`);
      for (const [what, more] of Object.entries(figures)) expect(more, what).toBeLessThan(120);
    },
    LIMIT_MS,
  );
});
