import { connect, type Socket } from 'node:net';
import { fileURLToPath } from 'node:url';
import { benchLogger, connectPacket, publishPacket, text } from './intake-publisher.ts';

/*
 * Many loggers that send one reading a second each, at their own moment of the second, in one process:
 * `node fleet-publisher.js PORT LOGGERS SECONDS`. Its last line is a `FleetAccount` as JSON.
 */

export interface FleetAccount {
  readonly sent: number;
  readonly acknowledged: number;
  /** Acknowledged only after the next reading was due, a second later, or not at all. */
  readonly late: number;
  readonly worstMs: number;
  readonly medianMs: number;
  /** Connections that ended before they should. */
  readonly cut: number;
}

const INTERVAL_MS = 1000;
/** Connections a second at the beginning. */
const CONNECTIONS_A_SECOND = 200;
const LAST_WAIT_MS = 10_000;

interface FleetLogger {
  readonly socket: Socket;
  readonly topic: Buffer;
  readonly waiting: Map<number, number>;
  welcomed: boolean;
  sent: number;
}

async function publishAsFleet(port: number, loggers: number, seconds: number): Promise<FleetAccount> {
  const latencies: number[] = [];
  let sent = 0;
  let late = 0;
  let worstMs = 0;
  let cut = 0;
  let ending = false;

  function open(number: number): Promise<FleetLogger> {
    const name = benchLogger(number);
    const socket = connect(port, '127.0.0.1');
    socket.setNoDelay(true);
    const logger: FleetLogger = {
      socket,
      topic: text(`mainsdiary/${name}/pressure`),
      waiting: new Map(),
      welcomed: false,
      sent: 0,
    };
    let rest = Buffer.alloc(0);
    return new Promise((resolve, reject) => {
      socket.once('connect', () => socket.write(connectPacket(name)));
      socket.once('error', reject);
      socket.once('close', () => {
        if (!ending) cut += 1;
      });
      socket.on('data', (chunk) => {
        rest = rest.length === 0 ? chunk : Buffer.concat([rest, chunk]);
        let at = 0;
        for (; at + 4 <= rest.length; at += 4) {
          if (!logger.welcomed) {
            if (rest[at + 3] !== 0) return reject(new Error(`${name} was refused with ${rest[at + 3]}`));
            logger.welcomed = true;
            resolve(logger);
            continue;
          }
          const id = rest.readUInt16BE(at + 2);
          const tookMs = performance.now() - (logger.waiting.get(id) ?? Number.NEGATIVE_INFINITY);
          logger.waiting.delete(id);
          latencies.push(tookMs);
          if (tookMs > INTERVAL_MS) late += 1;
          worstMs = Math.max(worstMs, tookMs);
        }
        rest = rest.subarray(at);
      });
    });
  }

  function send(logger: FleetLogger, number: number): void {
    const id = (logger.sent++ % 65_000) + 1;
    const value = (4200 + ((logger.sent * 7 + number * 13) % 97)) / 1000;
    logger.waiting.set(id, performance.now());
    sent += 1;
    logger.socket.write(publishPacket(logger.topic, id, `{"time":${Date.now()},"value":${value}}`));
  }

  const fleet: FleetLogger[] = [];
  for (let number = 0; number < loggers; number++) {
    fleet.push(await open(number));
    if (number % 20 === 19) await new Promise((resolve) => setTimeout(resolve, 20_000 / CONNECTIONS_A_SECOND));
  }
  process.stdout.write('connected\n');
  const startedMs = performance.now();
  let due = 0;
  await new Promise<void>((resolve) => {
    const timer = setInterval(() => {
      const sofar = Math.min(((performance.now() - startedMs) / INTERVAL_MS) * loggers, seconds * loggers);
      for (; due < sofar; due++) send(fleet[due % loggers]!, due % loggers);
      if (due < seconds * loggers) return;
      clearInterval(timer);
      resolve();
    }, 5);
  });
  const waiting = () => fleet.reduce((sum, logger) => sum + logger.waiting.size, 0);
  const endMs = performance.now() + LAST_WAIT_MS;
  while (waiting() > 0 && performance.now() < endMs) await new Promise((resolve) => setTimeout(resolve, 20));
  ending = true;
  for (const { socket } of fleet) socket.destroy();
  latencies.sort((a, b) => a - b);
  return {
    sent,
    acknowledged: sent - waiting(),
    late: late + waiting(),
    worstMs,
    medianMs: latencies[latencies.length >> 1] ?? Number.NaN,
    cut,
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const [port, loggers, seconds] = process.argv.slice(2).map(Number) as [number, number, number];
  process.stdout.write(`${JSON.stringify(await publishAsFleet(port, loggers, seconds))}\n`);
}
