import { localText } from '../../collector/model/local-time.ts';

/** Times of findings as the site's own clock showed them, with the zone's abbreviation, so that no hour is ambiguous. */
export interface LocalFormat {
  /** `Mon 2026-05-04 07:12 BST` */
  moment(time: string): string;
  /** `07:12 BST` */
  time(time: string): string;
  /** `07:12 BST`, to the nearest minute. */
  minute(time: string): string;
  /** Two moments, the second without its date where it is the same. */
  span(start: string, end: string): string;
}

const MINUTE_MS = 60_000;

export function createLocalFormat(timeZone: string): LocalFormat {
  const text = (time: string, pattern: string) => localText(Date.parse(time), timeZone, pattern);
  const clock = (time: string) => text(time, Date.parse(time) % MINUTE_MS === 0 ? 'HH:mm' : 'HH:mm:ss');
  const zone = (time: string) => text(time, 'ZZZZ');
  const moment = (time: string) => `${text(time, 'ccc yyyy-MM-dd')} ${clock(time)} ${zone(time)}`;
  const time = (at: string) => `${clock(at)} ${zone(at)}`;
  return {
    moment,
    time,
    minute: (at) => time(new Date(Math.round(Date.parse(at) / MINUTE_MS) * MINUTE_MS).toISOString()),
    span(start, end) {
      if (text(start, 'yyyy-MM-dd') !== text(end, 'yyyy-MM-dd')) return `${moment(start)} to ${moment(end)}`;
      const from = zone(start) === zone(end) ? `${text(start, 'ccc yyyy-MM-dd')} ${clock(start)}` : moment(start);
      return `${from} to ${time(end)}`;
    },
  };
}

/** `45 s`, `12 min`, `3 h 20 min`, `2 d 4 h`. */
export function durationText(seconds: number): string {
  if (seconds < 120) return `${Number(seconds.toFixed(seconds < 10 ? 1 : 0))} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 120) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 === 0 ? `${hours} h` : `${hours} h ${minutes % 60} min`;
  return hours % 24 === 0 ? `${hours / 24} d` : `${Math.floor(hours / 24)} d ${hours % 24} h`;
}
