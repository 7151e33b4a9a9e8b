import type { Channel } from '../model/channel.ts';
import { formatRfc3339, parseRfc3339 } from '../model/instant.ts';
import { type EpochMs, toNineSignificantDigits } from '../model/units.ts';
import { escapeControls } from './excerpt.ts';
import { EARLIEST_PLAUSIBLE_MS, LATEST_AFTER_ARRIVAL_MS, SECONDS_BELOW } from './intake-limits.ts';

/** One reading of a message, its place in the message kept so that a refusal can name it. */
export interface AcceptedEntry {
  readonly index: number;
  readonly channel: Channel;
  /** Undefined: the message gave none, the time of arrival stands in. */
  readonly atMs: EpochMs | undefined;
  /** The time was reckoned back from arrival: the logger has no clock of its own. */
  readonly fromArrival: boolean;
  readonly value: number;
  /** Undefined: the unit set for the channel. */
  readonly unit: string | undefined;
}

/** `index` undefined: the message as a whole. */
export interface RefusedEntry {
  readonly index: number | undefined;
  readonly reason: string;
}

export interface ReadPayload {
  readonly accepted: AcceptedEntry[];
  readonly refused: RefusedEntry[];
}

export type Read<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly reason: string };

export function refuse(reason: string): { readonly ok: false; readonly reason: string } {
  return { ok: false, reason };
}

/** A foreign value as it may be quoted in a reason: short, escaped, its type visible. */
export function quoted(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text =
    typeof value === 'object' && value !== null ? (Array.isArray(value) ? 'a list' : 'an object') : undefined;
  if (text !== undefined) return text;
  const json = JSON.stringify(value) ?? String(value);
  return escapeControls(json.length > 40 ? `${json.slice(0, 40)}…` : json);
}

/** A number, and for `pump` also true, false, "on" and "off". Nine significant digits are kept. */
export function readValue(channel: Channel, value: unknown): Read<number> {
  if (channel === 'pump') {
    if (value === true || value === 'on' || value === 1) return { ok: true, value: 1 };
    if (value === false || value === 'off' || value === 0) return { ok: true, value: 0 };
    return refuse(`a pump's value is 0, 1, true, false, on or off, not ${quoted(value)}`);
  }
  if (typeof value !== 'number') return refuse(`the value isn't a number but ${quoted(value)}`);
  if (!Number.isFinite(value)) return refuse('the value is too large for a number');
  return { ok: true, value: nineDigits(value) };
}

/** Up to five digits before the point and four behind it are nine at most: most readings, and no text to be made. */
function nineDigits(value: number): number {
  return Math.abs(value) < 1e5 && Math.round(value * 1e4) / 1e4 === value ? value + 0 : toNineSignificantDigits(value);
}

/** RFC 3339, or a number: below 10^11 Unix seconds, else milliseconds. Rounded to the millisecond. */
export function readTime(time: unknown): Read<EpochMs> {
  if (typeof time === 'string') {
    const atMs = parseRfc3339(time);
    return atMs === undefined
      ? refuse(`the time ${quoted(time)} isn't RFC 3339, such as "2026-05-04T06:31:07Z"`)
      : { ok: true, value: atMs };
  }
  if (typeof time === 'number' && Number.isFinite(time)) {
    return { ok: true, value: Math.round(time < SECONDS_BELOW ? time * 1000 : time) };
  }
  return refuse(`the time is neither RFC 3339 text nor a number but ${quoted(time)}`);
}

/** Why a time can't be right, or undefined: plausible is 2000-01-01 to arrival + 24 h. */
export function implausible(atMs: EpochMs, arrivedMs: EpochMs): string | undefined {
  if (atMs < EARLIEST_PLAUSIBLE_MS) return `the time ${shownInstant(atMs)} lies before 2000-01-01`;
  if (!(atMs <= arrivedMs + LATEST_AFTER_ARRIVAL_MS)) {
    return `the time ${shownInstant(atMs)} lies more than 24 h after arrival (${shownInstant(arrivedMs)})`;
  }
  return undefined;
}

/** Instants beyond what a date can hold (about ±270,000 years) are shown as milliseconds. */
function shownInstant(atMs: EpochMs): string {
  return Math.abs(atMs) <= 8.64e15 ? formatRfc3339(atMs) : `${atMs} ms`;
}
