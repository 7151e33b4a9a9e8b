import { CANONICAL_UNIT, type Channel } from '../model/channel.ts';
import type { ChannelSetting } from '../model/logger.ts';
import { SAMPLE_FLAG } from '../model/series.ts';
import type { EpochMs } from '../model/units.ts';
import type { Piece } from '../store/port.ts';
import { type ChannelMemory, judgePace, nextStamp, type Pace } from './channel-memory.ts';
import type { AcceptedEntry, ReadPayload, RefusedEntry } from './payload-entry.ts';
import { readPlainBatch } from './plain-batch.ts';
import { readPayload } from './read-payload.ts';
import { splitAtHours } from './split-hours.ts';

/** A message as a broker delivers it. */
export interface IncomingMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly qos: 0 | 1;
  /** DUP: sent again, the first copy may or may not have come. */
  readonly duplicate: boolean;
  /** An outside broker gave out what it had kept: old, and no sample. */
  readonly retainedDelivery: boolean;
  readonly arrivedMs: EpochMs;
}

export interface AcceptContext {
  readonly loggerId: string;
  /** Channel of the topic. */
  readonly channel: Channel;
  /** All dated settings of the logger. */
  readonly settings: readonly ChannelSetting[];
  memory(channel: Channel): ChannelMemory;
}

export interface AcceptedMessage {
  readonly pieces: Piece[];
  readonly refused: RefusedEntry[];
  /** Readings of a redelivered message that were stored the first time. */
  readonly redelivered: number;
  /** How readings without their own time came; `undefined` where the message has none. */
  readonly pace: Pace | undefined;
}

/**
 * Turns a message on a channel's topic into pieces to store and entries to refuse. Changes only the memories of the
 * channels it touches; what happens to the pieces is the caller's.
 */
export function acceptMessage(message: IncomingMessage, context: AcceptContext): AcceptedMessage {
  return acceptEntries(readPayload(message.payload, context.channel, message.arrivedMs), message, context);
}

/** The same for a message whose payload has been read already. */
export function acceptEntries(
  { accepted, refused }: ReadPayload,
  message: IncomingMessage,
  context: Omit<AcceptContext, 'channel'>,
): AcceptedMessage {
  const columns = new Map<string, Column>();
  let redelivered = 0;
  let pace: Pace | undefined;
  for (const [channel, entries] of byChannel(accepted)) {
    const memory = context.memory(channel);
    const setting = settingInForce(context.settings, channel, message.arrivedMs);
    const usualUnit = setting?.unit ?? CANONICAL_UNIT[channel];
    let timeless = 0;
    for (const entry of entries) if (entry.atMs === undefined) timeless += 1;
    const channelPace = timeless > 0 ? judgePace(memory, message.arrivedMs, setting?.intervalS) : undefined;
    pace = graver(pace, channelPace);
    // Two readings of a channel in one message can't both be of the moment of arrival; a resent one isn't either.
    const uncertain = channelPace === 'burst' || timeless > 1 || message.duplicate;
    let column: Column | undefined;
    for (const entry of entries) {
      if (entry.atMs === undefined) {
        if (message.duplicate && timeless === 1 && entry.value === memory.lastTimelessValue) {
          redelivered += 1;
          continue;
        }
        memory.lastTimelessValue = entry.value;
      }
      const unit = entry.unit ?? usualUnit;
      if (column?.unit !== unit) column = columnOf(columns, channel, unit);
      column.timeMs.push(entry.atMs ?? nextStamp(memory, message.arrivedMs));
      column.value.push(entry.value);
      column.flags.push(flagsOf(entry, uncertain));
    }
  }
  const pieces = [...columns.values()].flatMap((column) =>
    splitAtHours(toPiece(column, context.loggerId, message.arrivedMs)),
  );
  return { pieces, refused, redelivered, pace };
}

/**
 * The pieces of a message that is a plain batch with times of its own; undefined where `acceptMessage` has to look at
 * it. Such a message changes no memory of its channel and refuses nothing.
 */
export function acceptPlainBatch(
  message: IncomingMessage,
  context: Pick<AcceptContext, 'loggerId' | 'channel' | 'settings'>,
): Piece[] | undefined {
  const { channel, loggerId, settings } = context;
  if (channel === 'pump') return undefined;
  const columns = readPlainBatch(message.payload, message.arrivedMs);
  if (columns === undefined) return undefined;
  const unit = settingInForce(settings, channel, message.arrivedMs)?.unit ?? CANONICAL_UNIT[channel];
  const { timeMs, value } = columns;
  return splitAtHours({ loggerId, channel, unit, arrivedMs: message.arrivedMs, timeMs, value, flags: undefined });
}

/** The same piece with every reading that has the time of arrival marked as uncertain. */
export function asUncertain(piece: Piece): Piece {
  return {
    ...piece,
    flags: piece.flags?.map((bits) => (bits & SAMPLE_FLAG.timeOfArrival ? bits | SAMPLE_FLAG.timeUncertain : bits)),
  };
}

/** The setting under which a logger sends at that moment: the last that has begun, else the first there is. */
export function settingInForce(
  settings: readonly ChannelSetting[],
  channel: Channel,
  atMs: EpochMs,
): ChannelSetting | undefined {
  let inForce: ChannelSetting | undefined;
  let first: ChannelSetting | undefined;
  for (const setting of settings) {
    if (setting.channel !== channel) continue;
    if (first === undefined || setting.fromMs < first.fromMs) first = setting;
    if (setting.fromMs <= atMs && (inForce === undefined || setting.fromMs >= inForce.fromMs)) inForce = setting;
  }
  return inForce ?? first;
}

interface Column {
  readonly channel: Channel;
  readonly unit: string;
  readonly timeMs: number[];
  readonly value: number[];
  readonly flags: number[];
}

function byChannel(entries: readonly AcceptedEntry[]): Map<Channel, AcceptedEntry[]> {
  const groups = new Map<Channel, AcceptedEntry[]>();
  for (const entry of entries) {
    const group = groups.get(entry.channel);
    if (group) group.push(entry);
    else groups.set(entry.channel, [entry]);
  }
  return groups;
}

function flagsOf(entry: AcceptedEntry, uncertain: boolean): number {
  if (entry.atMs !== undefined) return entry.fromArrival ? SAMPLE_FLAG.timeOfArrival : 0;
  return SAMPLE_FLAG.timeOfArrival | (uncertain ? SAMPLE_FLAG.timeUncertain : 0);
}

function columnOf(columns: Map<string, Column>, channel: Channel, unit: string): Column {
  const key = `${channel} ${unit}`;
  let column = columns.get(key);
  if (column === undefined) {
    column = { channel, unit, timeMs: [], value: [], flags: [] };
    columns.set(key, column);
  }
  return column;
}

function toPiece(column: Column, loggerId: string, arrivedMs: EpochMs): Piece {
  return {
    loggerId,
    channel: column.channel,
    unit: column.unit,
    arrivedMs,
    timeMs: Float64Array.from(column.timeMs),
    value: Float64Array.from(column.value),
    flags: column.flags.some((bits) => bits !== 0) ? Uint8Array.from(column.flags) : undefined,
  };
}

/** Over several channels the gravest judgement counts: it decides whether the message waits for a second one. */
function graver(a: Pace | undefined, b: Pace | undefined): Pace | undefined {
  return PACES.indexOf(a) >= PACES.indexOf(b) ? a : b;
}

const PACES: readonly (Pace | undefined)[] = [undefined, 'live', 'first after reconnection', 'burst'];
