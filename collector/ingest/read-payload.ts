import type { Channel } from '../model/channel.ts';
import type { EpochMs } from '../model/units.ts';
import { MAX_BATCH_ENTRIES, MAX_PAYLOAD_BYTES } from './intake-limits.ts';
import {
  type AcceptedEntry,
  implausible,
  quoted,
  type Read,
  type ReadPayload,
  type RefusedEntry,
  readTime,
  readValue,
  refuse,
} from './payload-entry.ts';
import { looksLikeSenml } from './senml.ts';
import { readSenml } from './senml-entries.ts';

// JSON's number (RFC 8259 section 6) between JSON's white space (section 2).
const JSON_NUMBER = /^[ \t\r\n]*(-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?)[ \t\r\n]*$/;
const UTF8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
const PUMP_WORD = /^[ \t\r\n]*(true|false|on|off)[ \t\r\n]*$/;

/**
 * What a payload says: readings and refusals, every entry exactly one of both. Never throws, whatever the bytes.
 * A message that can't be read at all is one refusal without an index.
 *
 * @param topicChannel channel of the topic; a SenML record's name may override it.
 * @param arrivedMs time of arrival, the base of relative times and of what is plausible.
 */
export function readPayload(payload: Uint8Array, topicChannel: Channel, arrivedMs: EpochMs): ReadPayload {
  if (payload.length > MAX_PAYLOAD_BYTES) {
    return whole(`the payload has ${payload.length} bytes, at most ${MAX_PAYLOAD_BYTES} are read`);
  }
  if (payload.length === 0) return whole('the payload is empty');
  const text = decodeUtf8(payload);
  if (text === undefined) return whole("the payload isn't UTF-8 text");

  const number = JSON_NUMBER.exec(text);
  if (number) return single(topicChannel, Number(number[1]));
  const word = topicChannel === 'pump' ? PUMP_WORD.exec(text) : null;
  if (word) return single(topicChannel, word[1] === 'true' || word[1] === 'on');

  const json = parseJson(text);
  if (json === undefined) return whole(`the payload is neither a number nor JSON${hintForNumber(text)}`);
  if (Array.isArray(json)) return readList(json, topicChannel, arrivedMs);
  if (typeof json === 'object' && json !== null) return collect([json], topicChannel, arrivedMs);
  return whole(`the payload is ${quoted(json)}, not a number, an object or a list`);
}

function readList(list: readonly unknown[], topicChannel: Channel, arrivedMs: EpochMs): ReadPayload {
  if (list.length === 0) return whole('the list is empty');
  if (list.length > MAX_BATCH_ENTRIES) {
    return whole(`the batch has ${list.length} entries, at most ${MAX_BATCH_ENTRIES} are read`);
  }
  if (!looksLikeSenml(list)) return collect(list, topicChannel, arrivedMs);
  const read = readSenml(list, topicChannel, arrivedMs);
  const empty = read.accepted.length + read.refused.length === 0;
  return empty ? whole('the SenML records hold base values only and no value of their own') : read;
}

function collect(list: readonly unknown[], channel: Channel, arrivedMs: EpochMs): ReadPayload {
  const accepted: AcceptedEntry[] = [];
  const refused: RefusedEntry[] = [];
  for (const [index, item] of list.entries()) {
    const entry = readTimedValue(item, index, channel, arrivedMs);
    if (entry.ok) accepted.push(entry.value);
    else refused.push({ index, reason: entry.reason });
  }
  return { accepted, refused };
}

/** `{"time": …, "value": …}`; `time` may be missing. */
function readTimedValue(item: unknown, index: number, channel: Channel, arrivedMs: EpochMs): Read<AcceptedEntry> {
  if (typeof item !== 'object' || item === null || Array.isArray(item)) {
    return refuse(`an entry is an object with time and value, not ${quoted(item)}`);
  }
  const { time, value: sent } = item as { readonly time?: unknown; readonly value?: unknown };
  if (sent === undefined) return refuse('the entry has no value');
  const value = readValue(channel, sent);
  if (!value.ok) return value;
  if (time === undefined) return { ok: true, value: timed(index, channel, undefined, value.value) };
  const atMs = readTime(time);
  if (!atMs.ok) return atMs;
  const wrong = implausible(atMs.value, arrivedMs);
  if (wrong !== undefined) return refuse(wrong);
  return { ok: true, value: timed(index, channel, atMs.value, value.value) };
}

function single(channel: Channel, sent: unknown): ReadPayload {
  const value = readValue(channel, sent);
  return value.ok ? { accepted: [timed(0, channel, undefined, value.value)], refused: [] } : whole(value.reason);
}

function timed(index: number, channel: Channel, atMs: EpochMs | undefined, value: number): AcceptedEntry {
  return { index, channel, atMs, fromArrival: false, value, unit: undefined };
}

function whole(reason: string): ReadPayload {
  return { accepted: [], refused: [{ index: undefined, reason }] };
}

function decodeUtf8(payload: Uint8Array): string | undefined {
  try {
    return UTF8.decode(payload);
  } catch {
    return undefined;
  }
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return undefined;
  }
}

/** The commonest slip has its own sentence. */
function hintForNumber(text: string): string {
  return /^\s*[+-]?\d+,\d+\s*$/.test(text) ? ' (a decimal comma; write 1.5, not 1,5)' : '';
}
