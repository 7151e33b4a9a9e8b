import { localText, utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { SagSummary } from '../findings.ts';

const WORDS = ['none', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];

export function inWords(count: number): string {
  return WORDS[count] ?? String(count);
}

/** `Monday 9 November 2026 at 06:17` by the clock at the site. */
export function localMoment(atMs: number, timeZone: string): string {
  return localText(atMs, timeZone, "cccc d LLLL yyyy 'at' HH:mm");
}

export function localClock(atMs: number, timeZone: string): string {
  const minute = (((Math.floor(atMs / 60_000) + utcOffsetMinutes(atMs, timeZone)) % 1440) + 1440) % 1440;
  return `${String(Math.floor(minute / 60)).padStart(2, '0')}:${String(minute % 60).padStart(2, '0')}`;
}

export function bar(value: number): string {
  return `${figure(value)} bar`;
}

export function duration(ms: number): string {
  const minutes = Math.round(ms / 60_000);
  if (minutes < 1) return `${Math.round(ms / 1000)} s`;
  if (minutes < 120) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

export function plural(count: number, one: string, many = `${one}s`): string {
  return `${inWords(count)} ${count === 1 ? one : many}`;
}

export function sentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A fixed number of decimals with a true minus sign, and no minus before nought. */
export function figure(value: number, decimals = 2): string {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text.replace('-', '\u2212');
}

/** ` (95 %: −0.07 to 0.12)`: nothing of it but its middle may be broken over a line. Empty without an interval. */
export function interval95(
  interval: readonly [number, number] | undefined,
  text: (value: number) => string,
  unit = '',
): string {
  if (!interval) return '';
  return ` (95\u00a0%:\u00a0${text(interval[0])} to\u00a0${text(interval[1])}${unit && `\u00a0${unit}`})`;
}

/** `±0.12 bar`, rounded up so that it never looks smaller than it is. */
export function plusMinusBar(value: number): string {
  return `±${(Math.ceil(value * 100 - 1e-9) / 100).toFixed(2)}\u00a0bar`;
}

export function chanceInWords(p: number): string {
  return p < 0.001 ? 'less than one in a thousand' : `${(100 * p).toFixed(1)}\u00a0%`;
}

/** `weekday mornings`, `weekend evenings`. */
export function windowsInWords({ window, days }: Pick<SagSummary, 'window' | 'days'>): string {
  return `${days === 'weekdays' ? 'weekday' : 'weekend'} ${window}s`;
}
