import { type Channel, isChannel } from '../model/channel.ts';
import { applyMap, type EpochMs, toNineSignificantDigits } from '../model/units.ts';
import {
  type AcceptedEntry,
  implausible,
  quoted,
  type Read,
  type ReadPayload,
  readValue,
  refuse,
} from './payload-entry.ts';
import { resolveSenml, type SenmlRecord } from './senml.ts';
import { senmlUnit } from './senml-units.ts';

/** A SenML pack as readings: channels from names, units of the registry converted, relative times set to arrival. */
export function readSenml(list: readonly unknown[], topicChannel: Channel, arrivedMs: EpochMs): ReadPayload {
  const pack = resolveSenml(list);
  if (!pack.ok) return { accepted: [], refused: [{ index: undefined, reason: pack.reason }] };
  const accepted: AcceptedEntry[] = [];
  const refused = [...pack.refused];
  for (const record of pack.records) {
    const entry = readRecord(record, topicChannel, arrivedMs);
    if (entry.ok) accepted.push(entry.value);
    else refused.push({ index: record.index, reason: entry.reason });
  }
  refused.sort((a, b) => (a.index ?? -1) - (b.index ?? -1));
  return { accepted, refused };
}

/** The part of a name after its last `:`, `/` or `.` where that is a channel. */
export function channelOfName(name: string): Channel | undefined {
  const last = name.slice(Math.max(name.lastIndexOf(':'), name.lastIndexOf('/'), name.lastIndexOf('.')) + 1);
  return isChannel(last) ? last : undefined;
}

function readRecord(record: SenmlRecord, topicChannel: Channel, arrivedMs: EpochMs): Read<AcceptedEntry> {
  const { index, name, timeS, relative } = record;
  const channel = channelOfName(name) ?? topicChannel;
  const value = readValue(channel, record.value);
  if (!value.ok) return value;
  const known = record.unit === undefined ? undefined : senmlUnit(channel, record.unit);
  if (record.unit !== undefined && known === undefined) {
    return refuse(`the unit ${quoted(record.unit)} isn't one of ${channel}`);
  }
  // Resolved time 0 is "now" by RFC 8428, 4.5.3: the same as no time at all.
  const atMs = timeS === 0 ? undefined : Math.round((relative ? arrivedMs : 0) + timeS * 1000);
  const wrong = atMs === undefined ? undefined : implausible(atMs, arrivedMs);
  if (wrong !== undefined) return refuse(wrong);
  const converted = known === undefined ? value.value : toNineSignificantDigits(applyMap(known.map, value.value));
  if (!Number.isFinite(converted)) return refuse('the value is too large for a number');
  return { ok: true, value: { index, channel, atMs, fromArrival: relative, value: converted, unit: known?.unit } };
}
