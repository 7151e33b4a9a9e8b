import { createHash } from 'node:crypto';
import type { SentRun } from '../model/series.ts';

/*
 * Two digests of samples.
 *
 * The seal (SHA-256) is over the canonical samples of a block, by which anybody can check that a stored hour is what
 * was sealed. Canonical samples: the runs in order of time, neighbouring runs of the same unit joined; for each run the
 * unit in UTF-8 and a line feed, the count as an unsigned 32-bit integer, all times as 64-bit floats of milliseconds
 * since 1970, all values as sent as 64-bit floats (minus nought as nought), one byte of flags each (nought where there
 * are none); every number little-endian.
 *
 * The fingerprint is a sum over samples of a mixed hash of (time, value, unit, flags): it doesn't depend on how samples
 * were packed into messages, so an hour keeps its fingerprint when it is sealed, and sums of pieces give the whole's.
 * It tells changed data from unchanged data for caches; it is no protection against someone who means harm.
 */

export function sealOf(runs: readonly SentRun[]): Uint8Array {
  const hash = createHash('sha256');
  for (const run of runs) {
    const count = new Uint8Array(4);
    new DataView(count.buffer).setUint32(0, run.timeMs.length, true);
    hash.update(`${run.unit}\n`).update(count);
    hash.update(bytesOf(run.timeMs)).update(bytesOf(run.value));
    hash.update(run.flags ?? new Uint8Array(run.timeMs.length));
  }
  return hash.digest();
}

/** Fingerprints are whole numbers below this, so that a float (and an SQLite integer) holds them exactly. */
const FINGERPRINT_RANGE = 2 ** 52;

export function addFingerprints(a: number, b: number): number {
  return (a + b) % FINGERPRINT_RANGE;
}

export function fingerprintOf(run: SentRun): number {
  const unitHash = hashText(run.unit);
  const times = new Uint32Array(run.timeMs.buffer, run.timeMs.byteOffset, run.timeMs.length * 2);
  const values = new Uint32Array(run.value.buffer, run.value.byteOffset, run.value.length * 2);
  let low = 0;
  let high = 0;
  for (let i = 0; i < run.timeMs.length; i++) {
    let a = mixIn(unitHash, times[2 * i]!);
    a = mixIn(a, times[2 * i + 1]!);
    a = mixIn(a, values[2 * i]!);
    a = mixIn(a, values[2 * i + 1]!);
    // Nought is not mixed in: a sample without flags hashes alike whether or not its neighbours carry some.
    const bits = run.flags?.[i];
    if (bits) a = mixIn(a, bits);
    const first = finish(a);
    const second = finish(first ^ 0x5bd1e995);
    low += first & 0x3ffffff;
    high += second & 0x3ffffff;
  }
  return ((high % 0x4000000) * 0x4000000 + low) % FINGERPRINT_RANGE;
}

// The mixing steps are those of MurmurHash3 (32 bit), a public-domain hash: good spread at a few operations a word.
function mixIn(hash: number, word: number): number {
  let k = Math.imul(word, 0xcc9e2d51);
  k = (k << 15) | (k >>> 17);
  const h = hash ^ Math.imul(k, 0x1b873593);
  return (Math.imul((h << 13) | (h >>> 19), 5) + 0xe6546b64) | 0;
}

function finish(hash: number): number {
  let h = hash ^ (hash >>> 16);
  h = Math.imul(h, 0x85ebca6b);
  h ^= h >>> 13;
  h = Math.imul(h, 0xc2b2ae35);
  return h ^ (h >>> 16);
}

function hashText(text: string): number {
  let hash = text.length;
  for (let i = 0; i < text.length; i++) hash = mixIn(hash, text.charCodeAt(i));
  return hash;
}

function bytesOf(column: Float64Array): Uint8Array {
  return new Uint8Array(column.buffer, column.byteOffset, column.byteLength);
}
