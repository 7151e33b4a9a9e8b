import type { Piece } from '../store/port.ts';

const HOUR_MS = 3_600_000;

/** The same samples in pieces that each lie in one hour (UTC), the store's unit of sealing. Order inside is kept. */
export function splitAtHours(piece: Piece): Piece[] {
  const { timeMs } = piece;
  if (inOneHour(timeMs)) return [piece];
  const hours = new Map<number, number[]>();
  for (let i = 0; i < timeMs.length; i++) {
    const hour = Math.floor(timeMs[i]! / HOUR_MS);
    const indexes = hours.get(hour);
    if (indexes) indexes.push(i);
    else hours.set(hour, [i]);
  }
  return [...hours.values()].map((indexes) => ({
    ...piece,
    timeMs: Float64Array.from(indexes, (i) => timeMs[i]!),
    value: Float64Array.from(indexes, (i) => piece.value[i]!),
    flags: piece.flags && Uint8Array.from(indexes, (i) => piece.flags![i]!),
  }));
}

function inOneHour(timeMs: Float64Array): boolean {
  if (timeMs.length === 0) return true;
  const from = Math.floor(timeMs[0]! / HOUR_MS) * HOUR_MS;
  const to = from + HOUR_MS;
  for (let i = 1; i < timeMs.length; i++) if (timeMs[i]! < from || timeMs[i]! >= to) return false;
  return true;
}
