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

/** Below this length an interval's seconds are told: by the minute it would begin and end at the same time. */
const SECONDS_TOLD_BELOW_MS = 180_000;

/** Day and clock at the house; the end of a pair on the same day needs the clock only. */
export function localSpan(start: string, end: string, timeZone: string): string {
  const startMs = parseRfc3339(start) ?? Number.NaN;
  const endMs = parseRfc3339(end) ?? Number.NaN;
  const clock = endMs - startMs < SECONDS_TOLD_BELOW_MS ? 'HH:mm:ss' : 'HH:mm';
  const sameDay = localText(startMs, timeZone, 'yyyyLLdd') === localText(endMs, timeZone, 'yyyyLLdd');
  return `${localText(startMs, timeZone, `ccc d LLL ${clock}`)} to ${localText(endMs, timeZone, sameDay ? clock : `ccc d LLL ${clock}`)}`;
}

/** Day and clock of one moment at the house. */
export function localMoment(at: string, timeZone: string): string {
  return localText(parseRfc3339(at) ?? Number.NaN, timeZone, 'ccc d LLL HH:mm');
}

/** The clock at the house at both ends, where the day stands beside it. */
export function clockSpan(start: string, end: string, timeZone: string): string {
  return `${clockOf(start, timeZone)} to ${clockOf(end, timeZone)}`;
}

function clockOf(at: string, timeZone: string): string {
  return localText(parseRfc3339(at) ?? Number.NaN, timeZone, 'HH:mm');
}

export function dayOf(at: string, timeZone: string): string {
  return localText(parseRfc3339(at) ?? Number.NaN, timeZone, 'ccc d LLL');
}

export function lengthMs(interval: { start: string; end: string }): number {
  return (parseRfc3339(interval.end) ?? Number.NaN) - (parseRfc3339(interval.start) ?? Number.NaN);
}

/** A number of things, in groups of three set apart by a narrow space, as on the page. */
export function count(value: number): string {
  return String(value).replace(/\B(?=(\d{3})+(?!\d))/g, '\u202f');
}
