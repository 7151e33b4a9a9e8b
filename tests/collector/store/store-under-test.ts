import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Channel } from '../../../collector/model/channel.ts';
import type { SentRun } from '../../../collector/model/series.ts';
import type { Piece, SampleReader, Store } from '../../../collector/store/port.ts';

/** Monday 4 May 2026, 00:00 UTC. */
export const START_MS = Date.UTC(2026, 4, 4);
export const HOUR_MS = 3_600_000;

/** A clock that stands where it is put. */
export function standingClock(nowMs = START_MS + 1000 * HOUR_MS): { nowMs(): number; now: number } {
  return {
    now: nowMs,
    nowMs() {
      return this.now;
    },
  };
}

export function scratchFolder(): { folder: string; remove(): void } {
  const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-store-'));
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) };
}

export interface PieceParts {
  loggerId?: string;
  channel?: Channel;
  unit?: string;
  arrivedMs?: number;
  flags?: number[];
}

/** A piece from pairs of (time in ms after START_MS, value). */
export function piece(samples: readonly (readonly [number, number])[], parts: PieceParts = {}): Piece {
  const timeMs = Float64Array.from(samples, ([atMs]) => START_MS + atMs);
  return {
    loggerId: parts.loggerId ?? 'front-hall',
    channel: parts.channel ?? 'pressure',
    unit: parts.unit ?? 'bar',
    arrivedMs: parts.arrivedMs ?? (timeMs.length > 0 ? Math.max(...timeMs) + 1500 : START_MS),
    timeMs,
    value: Float64Array.from(samples, ([, value]) => value),
    flags: parts.flags && Uint8Array.from(parts.flags),
  };
}

/** `count` samples a second apart from `fromMs` after START_MS on: a slow wave with a little noise, in steps of 1 mbar. */
export function steadyPiece(fromMs: number, count: number, parts: PieceParts & { stepMs?: number } = {}): Piece {
  const stepMs = parts.stepMs ?? 1000;
  return piece(
    Array.from({ length: count }, (_, i) => [fromMs + i * stepMs, waveBar(fromMs + i * stepMs)] as const),
    parts,
  );
}

/** A repeatable reading for a time, in whole millibars. */
export function waveBar(atMs: number): number {
  const noise = (Math.imul(atMs / 1000 + 7, 2654435761) >>> 16) % 11;
  return Math.round(3000 + 200 * Math.sin(atMs / 4e6) + noise) / 1000;
}

export async function collectRuns(
  store: SampleReader,
  loggerId = 'front-hall',
  channel: Channel = 'pressure',
  fromMs = 0,
  toMs = 4e12,
): Promise<SentRun[]> {
  const runs: SentRun[] = [];
  for await (const run of store.runs(loggerId, channel, fromMs, toMs)) runs.push(run);
  return runs;
}

/** Everything stored, as [ms after START_MS, value, unit, flags]. */
export async function samplesOf(
  store: SampleReader,
  loggerId = 'front-hall',
  channel: Channel = 'pressure',
): Promise<[number, number, string, number][]> {
  const runs = await collectRuns(store, loggerId, channel);
  return runs.flatMap((run) =>
    Array.from(run.timeMs, (atMs, i): [number, number, string, number] => [
      atMs - START_MS,
      run.value[i]!,
      run.unit,
      run.flags?.[i] ?? 0,
    ]),
  );
}

export async function sealAll(store: Store, nowMs = START_MS + 1000 * HOUR_MS): Promise<void> {
  let turns = 0;
  while ((await store.seal(nowMs, 1000)) > 0) if (++turns > 1000) throw new Error('sealing never ends');
}

/** Repeatable numbers from 0 to 1 (mulberry32, public domain). */
export function seededChance(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

/** A standard normal number (Box and Muller 1958). */
export function normal(chance: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - chance())) * Math.cos(2 * Math.PI * chance());
}
