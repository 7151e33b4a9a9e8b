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

/** `45 s`, `90 s`, `45 min`, `10 h 26 min`, `15 h`, `3 days`, `2 days 3 h`. */
export function duration(ms: number): string {
  if (ms < 120_000) return `${Math.round(ms / 1000)} s`;
  const minutes = Math.round(ms / 60_000);
  if (minutes < 120) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 === 0 ? `${hours} h` : `${hours} h ${minutes % 60} min`;
  const wholeHours = Math.round(minutes / 60);
  const days = Math.floor(wholeHours / 24);
  return wholeHours % 24 === 0 ? `${days} days` : `${days} days ${wholeHours % 24} h`;
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

export function chanceInWords(p: number): string {
  if (p < 0.001) return 'less than 0.1\u00a0%';
  return p > 0.9995 ? '100\u00a0%' : `${(100 * p).toFixed(1)}\u00a0%`;
}

/** `weekday mornings`, `weekend evenings`; of one, `weekday morning`. */
export function windowsInWords({ window, days }: Pick<SagSummary, 'window' | 'days'>, count: number): string {
  return `${days === 'weekdays' ? 'weekday' : 'weekend'} ${window}${count === 1 ? '' : 's'}`;
}

/** `Friday 8 May 2026` of a calendar day `2026-05-08`. */
export function dayInWords(day: string): string {
  return localText(Date.parse(`${day}T12:00:00Z`), 'UTC', 'cccc d LLLL yyyy');
}
