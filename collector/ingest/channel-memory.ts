import type { EpochMs } from '../model/units.ts';

/*
 * What the way in remembers of one channel, for readings that come without their own time: their stamps must differ,
 * a redelivered one must not count twice, and a burst after a reconnection isn't what it seems.
 */
export interface ChannelMemory {
  /** The newest stamp given out, so that the next differs. */
  lastStampMs: EpochMs | undefined;
  /** The newest value that came without a time, to recognise its redelivery. */
  lastTimelessValue: number | undefined;
  lastTimelessArrivalMs: EpochMs | undefined;
  /** Smoothed gap between such messages while the connection was steady. */
  usualGapMs: number | undefined;
  /** Open from a reconnection until readings come at their usual pace. */
  watch: { readonly sinceMs: EpochMs; seen: number } | undefined;
}

export function emptyChannelMemory(): ChannelMemory {
  return {
    lastStampMs: undefined,
    lastTimelessValue: undefined,
    lastTimelessArrivalMs: undefined,
    usualGapMs: undefined,
    watch: undefined,
  };
}

/** Stamps closer than this to their predecessor belong to a burst where the usual pace isn't known yet. */
export const BURST_GAP_MS = 100;
/** At a known pace, a burst comes at least twice as fast. */
const BURST_SHARE_OF_USUAL_GAP = 0.5;
const SHORTEST_BURST_GAP_MS = 10;
/** A slow link empties a buffer at a message a round trip; beyond two seconds nothing is called a burst. */
const LONGEST_BURST_GAP_MS = 2000;
/** Without a known pace a fast logger would look like a burst for ever: after this it is taken as live. */
const LONGEST_WATCH_MS = 60_000;
const GAP_SMOOTHING = 0.2;

/** The time of arrival as a stamp no other reading of the channel has: at least 1 ms after the one before. */
export function nextStamp(memory: ChannelMemory, arrivedMs: EpochMs): EpochMs {
  const stamp =
    memory.lastStampMs !== undefined && memory.lastStampMs >= arrivedMs ? memory.lastStampMs + 1 : arrivedMs;
  memory.lastStampMs = stamp;
  return stamp;
}

/** What a message without its own time is, judged by when it came after a reconnection. */
export type Pace = 'live' | 'first after reconnection' | 'burst';

/** Judges one such message and remembers it. Steady messages teach the channel's usual pace. */
export function judgePace(memory: ChannelMemory, arrivedMs: EpochMs, statedIntervalS: number | undefined): Pace {
  const before = memory.lastTimelessArrivalMs;
  memory.lastTimelessArrivalMs = arrivedMs;
  const { watch } = memory;
  if (watch === undefined) {
    learnPace(memory, before, arrivedMs);
    return 'live';
  }
  if (watch.seen === 0) {
    memory.watch = { sinceMs: arrivedMs, seen: 1 };
    return 'first after reconnection';
  }
  const usualGapMs = memory.usualGapMs ?? (statedIntervalS === undefined ? undefined : statedIntervalS * 1000);
  const tooLong = usualGapMs === undefined && arrivedMs - watch.sinceMs > LONGEST_WATCH_MS;
  if (before !== undefined && arrivedMs - before < burstGapMs(usualGapMs) && !tooLong) {
    watch.seen += 1;
    return 'burst';
  }
  memory.watch = undefined;
  return 'live';
}

function burstGapMs(usualGapMs: number | undefined): number {
  if (usualGapMs === undefined) return BURST_GAP_MS;
  return Math.min(Math.max(usualGapMs * BURST_SHARE_OF_USUAL_GAP, SHORTEST_BURST_GAP_MS), LONGEST_BURST_GAP_MS);
}

function learnPace(memory: ChannelMemory, before: EpochMs | undefined, arrivedMs: EpochMs): void {
  if (before === undefined) return;
  const gap = Math.max(0, arrivedMs - before);
  memory.usualGapMs =
    memory.usualGapMs === undefined ? gap : memory.usualGapMs + GAP_SMOOTHING * (gap - memory.usualGapMs);
}
