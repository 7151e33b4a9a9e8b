import type { Channel } from './channel.ts';
import { parsePointer } from './json-pointer.ts';
import { filterFault, filtersOverlap } from './topic-filter.ts';

/** How a device writes a time. */
export const TIME_FORMS = ['rfc3339', 'unix_s', 'unix_ms'] as const;
export type TimeForm = (typeof TIME_FORMS)[number];

/** Where one channel stands in a device's messages. */
export interface ChannelMapping {
  readonly channel: Channel;
  /** JSON Pointer to a list of entries; `value` and `time` are then looked for in each of them. */
  readonly entries?: string | undefined;
  /** JSON Pointer to the value; empty: the whole message (or entry). Its unit is the one set for the channel. */
  readonly value: string;
  /** Missing: the time of arrival. */
  readonly time?: { readonly pointer: string; readonly form: TimeForm } | undefined;
}

/** The messages of a device whose firmware can't be told ours: under which topics they come, what stands where. */
export interface DeviceMapping {
  readonly filter: string;
  readonly channels: readonly ChannelMapping[];
}

/** First level of our own topics. */
const OWN_ROOT = 'mainsdiary';

/** A fault of a mapping: where, and why, in a sentence. */
export interface MappingFault {
  readonly place: string;
  readonly message: string;
}

/** What is wrong with a mapping by itself. Empty: nothing. */
export function mappingFaults(mapping: DeviceMapping): MappingFault[] {
  const faults: MappingFault[] = [];
  const filter = unfitFilter(mapping.filter);
  if (filter !== undefined) faults.push({ place: 'filter', message: filter });
  for (const [index, mapped] of mapping.channels.entries()) {
    const place = `channels.${index}`;
    if (mapping.channels.findIndex((other) => other.channel === mapped.channel) !== index)
      faults.push({ place: `${place}.channel`, message: `${mapped.channel} is mapped twice` });
    const pointers = { value: mapped.value, entries: mapped.entries, time: mapped.time?.pointer };
    for (const [name, pointer] of Object.entries(pointers)) {
      const parsed = pointer === undefined ? [] : parsePointer(pointer);
      if ('wrong' in parsed) faults.push({ place: `${place}.${name}`, message: `the pointer ${parsed.wrong}` });
    }
  }
  return faults;
}

function unfitFilter(filter: string): string | undefined {
  const fault = filterFault(filter);
  if (fault !== undefined) return `the topic filter ${fault}`;
  if (filter.startsWith('$')) return 'topics that begin with $ belong to the broker itself';
  if (filtersOverlap(filter, `${OWN_ROOT}/#`))
    return `the topic filter also covers ${OWN_ROOT}/…, where loggers publish in our own form; begin it with a name of the device's own`;
  return undefined;
}

/** The logger among others whose filter a filter overlaps, so that a message could be either's. */
export function overlappingLogger<L extends { readonly id: string; readonly mapping?: DeviceMapping | undefined }>(
  loggerId: string,
  filter: string,
  others: readonly L[],
): L | undefined {
  return others.find(
    (other) => other.id !== loggerId && other.mapping !== undefined && filtersOverlap(filter, other.mapping.filter),
  );
}
