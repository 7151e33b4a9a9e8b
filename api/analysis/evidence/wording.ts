import { localText, utcOffsetMinutes } from '../../../collector/model/local-time.ts';

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
  return `${value.toFixed(2)} bar`;
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
