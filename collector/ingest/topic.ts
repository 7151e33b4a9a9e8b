import { CHANNELS, type Channel, isChannel, isLoggerId } from '../model/channel.ts';

/** First level of every topic. */
export const TOPIC_ROOT = 'mainsdiary';
/** What the collector subscribes to at a broker: every channel and status of every logger. */
export const ALL_TOPICS = `${TOPIC_ROOT}/+/+`;
/** What a logger says on its status topic. */
export const STATUS_WORDS = ['online', 'offline'] as const;
export type StatusWord = (typeof STATUS_WORDS)[number];

export type ReadTopic =
  | { readonly kind: 'channel'; readonly loggerId: string; readonly channel: Channel }
  | { readonly kind: 'status'; readonly loggerId: string }
  /** `loggerId` is given where that level at least is well formed. */
  | { readonly kind: 'refused'; readonly loggerId: string | undefined; readonly reason: string };

export function channelTopic(loggerId: string, channel: Channel): string {
  return `${TOPIC_ROOT}/${loggerId}/${channel}`;
}

export function statusTopic(loggerId: string): string {
  return `${TOPIC_ROOT}/${loggerId}/status`;
}

/** The levels a logger may publish under, for messages to people: `mainsdiary/front-hall/…`. */
export function allowedTopics(loggerId: string): string {
  return `${TOPIC_ROOT}/${loggerId}/{${[...CHANNELS, 'status'].join('|')}}`;
}

/** True where a topic lies under the logger's own two levels, whatever follows. */
export function isUnder(topic: string, loggerId: string): boolean {
  return topic.startsWith(`${TOPIC_ROOT}/${loggerId}/`);
}

/** Topics whose reading is remembered: a thousand loggers with all their channels, some megabyte. */
const REMEMBERED_TOPICS = 8192;

/** `readTopic` that remembers the topics of channels it has read: a logger sends the same one all its life. */
export function createTopicReader(): (topic: string) => ReadTopic {
  const known = new Map<string, ReadTopic>();
  return (topic) => {
    const before = known.get(topic);
    if (before !== undefined) return before;
    const read = readTopic(topic);
    if (read.kind === 'channel') {
      if (known.size >= REMEMBERED_TOPICS) known.clear();
      known.set(topic, read);
    }
    return read;
  };
}

/** Reads `mainsdiary/{logger}/{channel}` and `mainsdiary/{logger}/status`; anything else is refused with its reason. */
export function readTopic(topic: string): ReadTopic {
  const levels = topic.split('/', 4);
  const [root, loggerId, last] = levels;
  if (root !== TOPIC_ROOT || loggerId === undefined || last === undefined) {
    return { kind: 'refused', loggerId: undefined, reason: `the topic isn't ${TOPIC_ROOT}/{logger}/{channel}` };
  }
  if (!isLoggerId(loggerId)) {
    return {
      kind: 'refused',
      loggerId: undefined,
      reason: "the topic's second level isn't a logger's name: 1 to 64 of a-z, 0-9, - and _",
    };
  }
  if (levels.length > 3) {
    return { kind: 'refused', loggerId, reason: `the topic has more levels than ${TOPIC_ROOT}/{logger}/{channel}` };
  }
  if (last === 'status') return { kind: 'status', loggerId };
  if (isChannel(last)) return { kind: 'channel', loggerId, channel: last };
  return {
    kind: 'refused',
    loggerId,
    reason: `the topic's last level is neither a channel (${CHANNELS.join(', ')}) nor status`,
  };
}
