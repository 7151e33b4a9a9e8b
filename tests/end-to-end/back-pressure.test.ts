import { readFileSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { connectPacket, publishPacket, text } from '../bench/intake-publisher.ts';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { skipWithoutMosquitto, startMosquitto } from '../support/mosquitto.ts';
import { eventually, startProgram } from '../support/program.ts';
import { differences, startLoad } from './load-with-record.ts';

/** How long the store takes nothing; HELD_SECONDS=180 for minutes. */
const HELD_SECONDS = Number(process.env['HELD_SECONDS'] ?? 6);
const SENDERS = 20;
/** 32 MB of payloads may wait (see the broker's limits), and the objects around them. */
const MOST_GROWTH_MB = 250;
const LIMIT_MS = 240_000 + HELD_SECONDS * 2000;
/** An outside broker takes whatever comes and keeps it: it is given so many messages at most. */
const POURED_INTO_OUTSIDE = 60_000;
const PADDING = ' '.repeat(400);

/** Connections that send as much as is taken from them, come back when they are cut off, and count what they get. */
function pour(
  port: number,
  logger: string,
  key: string,
  most: number,
): { acknowledged(): number; sent(): number; stop(): void } {
  const sockets = new Set<Socket>();
  const topic = text(`mainsdiary/${logger}/pressure`);
  let stopped = false;
  let acknowledgedBytes = 0;
  let sent = 0;

  function open(sender: number): void {
    if (stopped) return;
    const socket = connect(port, '127.0.0.1');
    sockets.add(socket);
    let welcomed = false;
    let id = 0;
    const write = (): void => {
      let room = true;
      while (room && !stopped && !socket.destroyed && sent < most) {
        id = (id % 65_000) + 1;
        sent += 1;
        const time = 1_700_000_000 + sent;
        room = socket.write(publishPacket(topic, id, `{"time":${time},"value":1.5}${PADDING}`));
      }
    };
    socket.once('connect', () => socket.write(connectPacket(logger, key, `${logger}-${sender}`)));
    socket.on('data', (chunk) => {
      acknowledgedBytes += welcomed ? chunk.length : chunk.length - 4;
      if (welcomed) return;
      welcomed = true;
      write();
    });
    socket.on('drain', write);
    socket.on('error', () => undefined);
    socket.on('close', () => {
      sockets.delete(socket);
      setTimeout(open, 100, sender);
    });
  }

  for (let sender = 0; sender < SENDERS; sender++) open(sender);
  return {
    acknowledged: () => acknowledgedBytes / 4,
    sent: () => sent,
    stop() {
      stopped = true;
      for (const socket of sockets) socket.destroy();
    },
  };
}

function residentMb(pid: number): number {
  return Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;
}

async function healthCode(base: string): Promise<number> {
  return (await fetch(`${base}/api/health`, { signal: AbortSignal.timeout(30_000) })).status;
}

describe.skipIf(process.platform !== 'linux')('while the store takes nothing and messages pour in', () => {
  const withoutMosquitto = skipWithoutMosquitto();

  it.each(['embedded', 'outside'] as const)(
    'memory stays bounded, nothing is acknowledged by us, and all flows afterwards: %s broker',
    async (kind) => {
      if (kind === 'outside' && withoutMosquitto) return;
      const mosquitto = kind === 'outside' ? await startMosquitto() : undefined;
      const program = await startProgram({ flags: mosquitto ? ['--broker', mosquitto.url] : [] });
      const port = mosquitto?.port ?? program.mqttPort;
      const site = await addSite(program.base);
      const loadKey = await addLogger(program.base, site, 'front-hall');
      const key = await addLogger(program.base, site, 'cellar');
      const load = await startLoad(port, 'front-hall', loadKey);
      await load.more(500);
      const other = openPlainFile(join(program.folder, 'samples.db'));
      other.exec('begin immediate');
      await eventually(
        () => healthCode(program.base),
        (code) => code === 503,
      );
      const pid = program.process.pid!;
      const beforeMb = residentMb(pid);
      const pouring = pour(port, 'cellar', key, kind === 'outside' ? POURED_INTO_OUTSIDE : Number.POSITIVE_INFINITY);
      let mostMb = beforeMb;
      const endMs = Date.now() + HELD_SECONDS * 1000;
      await eventually(
        async () => {
          mostMb = Math.max(mostMb, residentMb(pid));
          return Date.now();
        },
        (nowMs) => nowMs >= endMs,
        HELD_SECONDS * 1000 + 60_000,
      );
      if (kind === 'embedded') expect(pouring.acknowledged(), 'acknowledged and not stored').toBe(0);
      pouring.stop();
      other.exec('rollback');
      other.close();
      await eventually(
        () => healthCode(program.base),
        (code) => code === 200,
      );
      await load.more(500);
      await load.stop();
      await eventually(
        async () => differences(load, await exportedSamples(program.base, 'front-hall')),
        (wrong) => wrong.length === 0,
      );
      console.log(
        `${kind} broker, store held for ${HELD_SECONDS} s: resident ${beforeMb.toFixed(0)} MB before, ${mostMb.toFixed(0)} MB at most; ${pouring.sent()} messages poured`,
      );
      expect(mostMb - beforeMb).toBeLessThan(MOST_GROWTH_MB);
      expect(await program.stop()).toBe(0);
      await mosquitto?.stop();
    },
    LIMIT_MS,
  );
});
