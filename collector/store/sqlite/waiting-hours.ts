import type { HourNumber } from '../hours.ts';
import type { ChannelKey, Tail } from './tail.ts';

/**
 * Which channels have samples in the tail, and of which hours, kept in memory so that finding work costs nothing while
 * there is none. It follows commits, never transactions that may still be rolled back.
 */
export interface WaitingHours {
  add(key: ChannelKey, hour: HourNumber): void;
  remove(key: ChannelKey, hour: HourNumber): void;
  /** Hours below `firstOpen` that wait, ascending; the channel that waits longest comes first. */
  next(firstOpen: HourNumber): { key: ChannelKey; hours: HourNumber[] } | undefined;
  count(firstOpen: HourNumber): number;
  /** Reads the tail again: after erasing, and at the start. */
  reload(): void;
}

export function createWaitingHours(tail: Tail): WaitingHours {
  const channels = new Map<string, { key: ChannelKey; hours: Set<HourNumber> }>();
  const nameOf = ({ logger, channel }: ChannelKey) => `${logger}/${channel}`;

  function add(key: ChannelKey, hour: HourNumber): void {
    const entry = channels.get(nameOf(key));
    if (entry) entry.hours.add(hour);
    else channels.set(nameOf(key), { key: { logger: key.logger, channel: key.channel }, hours: new Set([hour]) });
  }

  function reload(): void {
    channels.clear();
    for (const row of tail.waitingHours()) add(row, row.hour);
  }

  reload();
  return {
    add,
    reload,
    remove(key, hour) {
      const entry = channels.get(nameOf(key));
      entry?.hours.delete(hour);
      if (entry?.hours.size === 0) channels.delete(nameOf(key));
    },
    next(firstOpen) {
      let oldest: { key: ChannelKey; hours: HourNumber[] } | undefined;
      for (const { key, hours } of channels.values()) {
        const closed = [...hours].filter((hour) => hour < firstOpen).sort((a, b) => a - b);
        if (closed.length > 0 && (!oldest || closed[0]! < oldest.hours[0]!)) oldest = { key, hours: closed };
      }
      return oldest;
    },
    count(firstOpen) {
      let waiting = 0;
      for (const { hours } of channels.values()) for (const hour of hours) if (hour < firstOpen) waiting++;
      return waiting;
    },
  };
}
