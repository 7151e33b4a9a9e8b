import { statSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { Piece } from '../../../../collector/store/port.ts';
import { openSqliteStore, STORE_FILE } from '../../../../collector/store/sqlite/open-store.ts';
import { HOUR_MS, normal, START_MS, scratchFolder, sealAll, seededChance, standingClock } from '../store-under-test.ts';

const HOURS = 28 * 24;
/** A guard against hanging on a busy machine. */
const LIMIT_MS = 300_000;

/** An hour at 1 Hz of a main near 4.2 bar: day curve, slow wander, white noise, in steps of 1 mbar. */
function* hoursOfMain(loggerId: string, noiseMbar: number, converterBits?: number): Generator<Piece> {
  const chance = seededChance(11);
  const keep = Math.exp(-1 / 600);
  let wander = 0;
  for (let hour = 0; hour < HOURS; hour++) {
    const timeMs = new Float64Array(3600);
    const value = new Float64Array(3600);
    for (let i = 0; i < 3600; i++) {
      const second = hour * 3600 + i;
      wander = wander * keep + 20 * Math.sqrt(1 - keep * keep) * normal(chance);
      let mbar = 4200 + 250 * Math.sin(2 * Math.PI * (second / 86_400 - 0.1)) + wander + noiseMbar * normal(chance);
      if (converterBits)
        mbar = (Math.round((mbar / 10_000) * (2 ** converterBits - 1)) * 10_000) / (2 ** converterBits - 1);
      timeMs[i] = START_MS + second * 1000;
      value[i] = Math.round(mbar) / 1000;
    }
    yield {
      loggerId,
      channel: 'pressure',
      unit: 'bar',
      arrivedMs: START_MS + (hour + 1) * HOUR_MS,
      timeMs,
      value,
    };
  }
}

/** Bytes a sample of the whole file after a clean stop. Targets: a row of SQLite takes 17 (measured on the same machine). */
async function bytesASample(source: (loggerId: string) => Generator<Piece>): Promise<number> {
  const { folder, remove } = scratchFolder();
  const store = await openSqliteStore({ folder, clock: standingClock() });
  let count = 0;
  for (const loggerId of ['front-hall', 'back-yard']) {
    for (const one of source(loggerId)) {
      await store.store([one]);
      count += one.timeMs.length;
      await store.seal(one.arrivedMs, 1000);
    }
  }
  await sealAll(store, START_MS + 2000 * HOUR_MS);
  await store.close();
  const bytes = statSync(join(folder, STORE_FILE)).size;
  remove();
  return bytes / count;
}

test(
  'a sample at 1 Hz with 5 mbar of noise in steps of 1 mbar weighs at most 0.8 byte, file overhead included',
  async () => {
    const weight = await bytesASample((loggerId) => hoursOfMain(loggerId, 5));
    console.log(`5 mbar noise: ${weight.toFixed(3)} byte a sample`);
    expect(weight).toBeLessThan(0.8);
    // Less than the entropy of white noise of 5 mbar would mean that samples were dropped: log2(5 · sqrt(2πe)) = 4.37 bits.
    expect(weight).toBeGreaterThan(4.37 / 8);
  },
  LIMIT_MS,
);

test(
  'a sample of a 10-bit converter weighs at most 0.45 byte',
  async () => {
    const weight = await bytesASample((loggerId) => hoursOfMain(loggerId, 5, 10));
    console.log(`10-bit converter: ${weight.toFixed(3)} byte a sample`);
    expect(weight).toBeLessThan(0.45);
  },
  LIMIT_MS,
);

test(
  'a long span streams in bounded memory: one hour at a time, whatever its length',
  async () => {
    const { folder, remove } = scratchFolder();
    const store = await openSqliteStore({ folder, clock: standingClock() });
    for (const one of hoursOfMain('front-hall', 5)) await store.store([one]);
    await sealAll(store, START_MS + 2000 * HOUR_MS);
    let count = 0;
    let largestBytes = 0;
    let longest = 0;
    const before = process.memoryUsage().arrayBuffers;
    for await (const run of store.runs('front-hall', 'pressure', START_MS, START_MS + HOURS * HOUR_MS)) {
      count += run.timeMs.length;
      longest = Math.max(longest, run.timeMs.length);
      if (count % (24 * 3600) === 0) largestBytes = Math.max(largestBytes, process.memoryUsage().arrayBuffers - before);
    }
    expect(count).toBe(HOURS * 3600);
    expect(longest).toBe(3600);
    // Held at once, four weeks would be 39 MB and a year 505 MB; what is seen here is what awaits collection.
    console.log(`largest buffers while streaming: ${(largestBytes / 1e6).toFixed(1)} MB`);
    await store.close();
    remove();
  },
  LIMIT_MS,
);
