import { createHash } from 'node:crypto';
import type { Channel } from '../../collector/model/channel.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { SampleReader } from '../../collector/store/port.ts';

const HOUR_MS = 3_600_000;

/**
 * Changes whenever a sample of the span does, and not with what comes after its end: of the last hour, where the end
 * lies within one, the samples themselves count. The store's own digest speaks of whole hours.
 */
export async function recordDigest(
  store: Pick<SampleReader, 'spanDigest' | 'runs'>,
  loggerId: string,
  channel: Channel,
  fromMs: EpochMs,
  toMs: EpochMs,
): Promise<string> {
  const hourMs = Math.max(fromMs, Math.floor(toMs / HOUR_MS) * HOUR_MS);
  const hash = createHash('sha256');
  if (fromMs < hourMs) hash.update(await store.spanDigest(loggerId, channel, fromMs, hourMs));
  for await (const { unit, timeMs, value, flags } of store.runs(loggerId, channel, hourMs, toMs)) {
    hash.update(`${unit} ${timeMs.length}\n`);
    for (const column of [timeMs, value, flags])
      if (column) hash.update(new Uint8Array(column.buffer, column.byteOffset, column.byteLength));
  }
  return hash.digest('hex');
}
