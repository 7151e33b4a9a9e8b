import { parseRfc3339 } from '../../collector/model/instant.ts';
import { localText } from '../../collector/model/local-time.ts';

/** Pressures with two decimals: a third would claim more than any transducer of this trade can. */
export function bar(value: number): string {
  return `${value.toFixed(2)} bar`;
}

/** `2 h 05 min`, `48 min`, `40 s`. */
export function duration(ms: number): string {
  const seconds = Math.round(ms / 1000);
  if (seconds < 90) return `${seconds} s`;
  const minutes = Math.round(seconds / 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}

export function share(fraction: number): string {
  return `${(Math.floor(fraction * 1000) / 10).toFixed(1)} %`;
}

/** Day and clock at the house; the end of a pair on the same day needs the clock only. */
export function localSpan(start: string, end: string, timeZone: string): string {
  const startMs = parseRfc3339(start) ?? Number.NaN;
  const endMs = parseRfc3339(end) ?? Number.NaN;
  const sameDay = localText(startMs, timeZone, 'yyyyLLdd') === localText(endMs, timeZone, 'yyyyLLdd');
  return `${localText(startMs, timeZone, 'ccc d LLL HH:mm')} to ${localText(endMs, timeZone, sameDay ? 'HH:mm' : 'ccc d LLL HH:mm')}`;
}

export function lengthMs(interval: { start: string; end: string }): number {
  return (parseRfc3339(interval.end) ?? Number.NaN) - (parseRfc3339(interval.start) ?? Number.NaN);
}

/** A number of things, in groups of three. */
export function count(value: number): string {
  return String(value).replace(/\B(?=(\d{3})+(?!\d))/g, ',');
}
