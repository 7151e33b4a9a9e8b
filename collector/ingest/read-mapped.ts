import type { Channel } from '../model/channel.ts';
import type { ChannelMapping, DeviceMapping, TimeForm } from '../model/device-mapping.ts';
import { parseRfc3339 } from '../model/instant.ts';
import { followPointer, parsePointer } from '../model/json-pointer.ts';
import type { EpochMs } from '../model/units.ts';
import { escapeControls } from './excerpt.ts';
import { MAX_BATCH_ENTRIES, MAX_PAYLOAD_BYTES } from './intake-limits.ts';
import {
  type AcceptedEntry,
  implausible,
  quoted,
  type Read,
  type ReadPayload,
  type RefusedEntry,
  readValue,
  refuse,
} from './payload-entry.ts';

const UTF8 = new TextDecoder('utf-8', { fatal: true });
// JSON's number (RFC 8259 section 6): many devices put theirs between quotation marks.
const NUMBER_TEXT = /^\s*-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?\s*$/;
/** Members that a refusal names when another one was looked for. */
const NAMES_SHOWN = 8;
const NAME_CHARACTERS = 30;

/** One place in the device's messages, its pointers read once. */
interface Place {
  readonly channel: Channel;
  readonly entries: Pointer | undefined;
  readonly value: Pointer;
  readonly time: (Pointer & { readonly form: TimeForm }) | undefined;
}

interface Pointer {
  readonly text: string;
  readonly tokens: readonly string[];
}

/** Reads one message's payload; never throws, whatever the bytes. Every mapped channel is read or refused by name. */
export type MappedReader = (payload: Uint8Array, arrivedMs: EpochMs) => ReadPayload;

/** Prepares a checked mapping for reading. A fault that `mappingFaults` would have told refuses each message. */
export function mappedReader(mapping: DeviceMapping): MappedReader {
  const places = mapping.channels.map(placeOf);
  return (payload, arrivedMs) => {
    const document = parse(payload);
    if (!document.ok) return { accepted: [], refused: [{ index: undefined, reason: document.reason }] };
    const accepted: AcceptedEntry[] = [];
    const refused: RefusedEntry[] = [];
    for (const place of places) {
      if ('wrong' in place) refused.push({ index: undefined, reason: place.wrong });
      else readPlace(place, document.value, arrivedMs, accepted, refused);
    }
    return { accepted, refused };
  };
}

function placeOf(mapped: ChannelMapping): Place | { readonly wrong: string } {
  const value = pointerOf(mapped.value);
  const entries = mapped.entries === undefined ? undefined : pointerOf(mapped.entries);
  const time = mapped.time && pointerOf(mapped.time.pointer);
  for (const pointer of [value, entries, time]) if (pointer && 'wrong' in pointer) return pointer;
  return {
    channel: mapped.channel,
    value: value as Pointer,
    entries: entries as Pointer | undefined,
    time: mapped.time && { ...(time as Pointer), form: mapped.time.form },
  };
}

function pointerOf(text: string): Pointer | { readonly wrong: string } {
  const tokens = parsePointer(text);
  return 'wrong' in tokens ? { wrong: `the pointer ${shown(text)} ${tokens.wrong}` } : { text, tokens };
}

function parse(payload: Uint8Array): Read<unknown> {
  if (payload.length > MAX_PAYLOAD_BYTES)
    return refuse(`the payload has ${payload.length} bytes, at most ${MAX_PAYLOAD_BYTES} are read`);
  if (payload.length === 0) return refuse('the payload is empty');
  try {
    const text = UTF8.decode(payload);
    try {
      return { ok: true, value: JSON.parse(text) as unknown };
    } catch {
      return refuse("the payload isn't JSON, so no pointer can be followed");
    }
  } catch {
    return refuse("the payload isn't UTF-8 text");
  }
}

function readPlace(
  place: Place,
  document: unknown,
  arrivedMs: EpochMs,
  accepted: AcceptedEntry[],
  refused: RefusedEntry[],
): void {
  const take = (item: unknown, index: number | undefined) => {
    const read = readEntry(place, item, arrivedMs);
    if (read.ok) accepted.push({ index: index ?? 0, channel: place.channel, ...read.value, ...SENT_PLAIN });
    else refused.push({ index, reason: `${place.channel}: ${read.reason}` });
  };
  if (place.entries === undefined) {
    take(document, undefined);
    return;
  }
  const list = listAt(place.entries, document);
  if (list.ok) for (const [index, item] of list.value.entries()) take(item, index);
  else refused.push({ index: undefined, reason: `${place.channel}: ${list.reason}` });
}

const SENT_PLAIN = { fromArrival: false, unit: undefined } as const;

function listAt(pointer: Pointer, document: unknown): Read<readonly unknown[]> {
  const pointed = follow(pointer, document);
  if (!pointed.ok) return pointed;
  const list = pointed.value;
  if (!Array.isArray(list)) return refuse(`${shown(pointer.text)} should lead to a list and leads to ${quoted(list)}`);
  if (list.length === 0) return refuse(`the list at ${shown(pointer.text)} is empty`);
  if (list.length > MAX_BATCH_ENTRIES)
    return refuse(
      `the list at ${shown(pointer.text)} has ${list.length} entries, at most ${MAX_BATCH_ENTRIES} are read`,
    );
  return { ok: true, value: list };
}

function readEntry(
  place: Place,
  item: unknown,
  arrivedMs: EpochMs,
): Read<{ readonly atMs: EpochMs | undefined; readonly value: number }> {
  const sent = follow(place.value, item);
  if (!sent.ok) return sent;
  const value = readValue(place.channel, numberIn(sent.value));
  if (!value.ok) return refuse(`at ${shown(place.value.text)} ${value.reason}`);
  if (place.time === undefined) return { ok: true, value: { atMs: undefined, value: value.value } };
  const written = follow(place.time, item);
  if (!written.ok) return written;
  const atMs = timeIn(written.value, place.time.form);
  if (!atMs.ok) return refuse(`at ${shown(place.time.text)} ${atMs.reason}`);
  const wrong = implausible(atMs.value, arrivedMs);
  if (wrong !== undefined) return refuse(`at ${shown(place.time.text)} ${wrong}`);
  return { ok: true, value: { atMs: atMs.value, value: value.value } };
}

function follow(pointer: Pointer, document: unknown): Read<unknown> {
  const pointed = followPointer(pointer.tokens, document);
  if (pointed.found) return { ok: true, value: pointed.value };
  const { at, depth } = pointed;
  const token = shown(pointer.tokens[depth]!);
  const where = depth === 0 ? 'the message' : `what stands at ${shown(upTo(pointer.text, depth))}`;
  return refuse(`${shown(pointer.text)} leads nowhere: ${where} is ${described(at)} and has no ${token}`);
}

/** The pointer's first tokens, as they were written. */
function upTo(pointer: string, depth: number): string {
  return pointer
    .split('/')
    .slice(0, depth + 1)
    .join('/');
}

function described(value: unknown): string {
  if (Array.isArray(value)) return value.length === 1 ? 'a list of 1 entry' : `a list of ${value.length} entries`;
  if (typeof value !== 'object' || value === null) return quoted(value);
  const names = Object.keys(value);
  if (names.length === 0) return 'an object without members';
  const more = names.length > NAMES_SHOWN ? ', …' : '';
  return `an object with ${names.slice(0, NAMES_SHOWN).map(shownName).join(', ')}${more}`;
}

function shownName(name: string): string {
  return escapeControls(name.length > NAME_CHARACTERS ? `${name.slice(0, NAME_CHARACTERS)}…` : name);
}

function shown(text: string): string {
  return text === '' ? 'the whole message' : shownName(text);
}

/** A number between quotation marks is one; other text stays text. */
function numberIn(sent: unknown): unknown {
  return typeof sent === 'string' && NUMBER_TEXT.test(sent) ? Number(sent) : sent;
}

function timeIn(written: unknown, form: TimeForm): Read<EpochMs> {
  switch (form) {
    case 'rfc3339': {
      const atMs = typeof written === 'string' ? parseRfc3339(written) : undefined;
      if (atMs === undefined)
        return refuse(`the time ${quoted(written)} isn't RFC 3339, such as "2026-05-04T06:31:07Z"`);
      return { ok: true, value: atMs };
    }
    case 'unix_s':
    case 'unix_ms': {
      const number = numberIn(written);
      const unit = form === 'unix_s' ? 'seconds' : 'milliseconds';
      if (typeof number !== 'number' || !Number.isFinite(number))
        return refuse(`the time should be a number of ${unit} since 1970 and is ${quoted(written)}`);
      return { ok: true, value: Math.round(form === 'unix_s' ? number * 1000 : number) };
    }
    default:
      return form satisfies never;
  }
}
