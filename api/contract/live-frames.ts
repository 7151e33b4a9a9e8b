import type { Channel } from '../../collector/model/channel.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Evidence } from '../analysis/findings.ts';
import type { FindingCounts } from './finding-counts.ts';
import type { LoggerStateCode } from './payloads.ts';

/*
 * What the WebSocket at /api/live says: one JSON frame a message, each with its type and the version of this list.
 * Readers ignore types they don't know. A page may send a FollowMessage, and nothing else.
 */
export const LIVE_VERSION = 1;

/** First frame after the upgrade. */
export interface HelloFrame {
  readonly type: 'hello';
  readonly version: number;
  readonly nowMs: EpochMs;
  readonly product: string;
}

/** New samples since the last frame, in the order of their commit: late ones may lie anywhere in time. */
export interface SamplesFrame {
  readonly type: 'samples';
  readonly version: number;
  readonly series: readonly {
    readonly logger: string;
    readonly channel: Channel;
    /** The canonical unit, or the unit as sent where it can't be converted. */
    readonly unit: string;
    readonly timeMs: readonly EpochMs[];
    readonly value: readonly number[];
  }[];
}

/** A logger's state has changed. */
export interface LoggerFrame {
  readonly type: 'logger';
  readonly version: number;
  readonly logger: string;
  readonly state: string;
  readonly stateCode: LoggerStateCode;
  readonly presence: 'online' | 'offline' | 'unknown';
  readonly sinceMs: EpochMs;
}

/** How far a long task is. `total` is null where it isn't known; `finished` comes once. */
export interface ProgressFrame {
  readonly type: 'progress';
  readonly version: number;
  readonly task: 'import' | 'demo_history';
  /** The logger's id for an import. */
  readonly subject: string;
  readonly done: number;
  readonly total: number | null;
  readonly finished: boolean;
}

/** A site, a logger or its settings changed, or an import ended: what was shown of it may be out of date. */
export interface ChangedFrame {
  readonly type: 'changed';
  readonly version: number;
  readonly what: 'site' | 'logger' | 'samples';
  readonly id: string;
}

/** Frames were left out because this reader was too slow: fetch again what is shown. */
export interface MissedFrame {
  readonly type: 'missed';
  readonly version: number;
}

/**
 * What can be said by now of what this reader follows, the record read up to `until`: at once when something new was
 * found, else once a minute at most, and only where the answer is another. Findings over HTTP without `to` are the same.
 */
export interface FindingsFrame {
  readonly type: 'findings';
  readonly version: number;
  readonly of: FollowedSubject;
  /** Whose findings these are: of a site, the logger that speaks for it. */
  readonly logger: string;
  readonly until: EpochMs;
  /** Statements with their certainty, open questions, and how many more days settle what days can. */
  readonly evidence: Evidence;
  /** Where another number stands than before, the findings document has changed. */
  readonly counts: FindingCounts;
}

/** Whose findings a page shows. */
export type FollowedSubject = { readonly site: string } | { readonly logger: string };

/** What a page sends: `{"type":"follow","site":"…"}`, `{"type":"follow","logger":"…"}`, or neither to follow no more. */
export type FollowMessage = { readonly type: 'follow' } & (FollowedSubject | { readonly site?: undefined });

const LONGEST_ID = 64;

/** What a message asks to follow; null: nothing any more; undefined: it is no such message. */
export function readFollowMessage(text: string): FollowedSubject | null | undefined {
  let message: unknown;
  try {
    message = JSON.parse(text);
  } catch {
    return undefined;
  }
  if (typeof message !== 'object' || message === null) return undefined;
  const { type, site, logger } = message as Record<string, unknown>;
  if (type !== 'follow') return undefined;
  const isId = (id: unknown): id is string => typeof id === 'string' && id.length > 0 && id.length <= LONGEST_ID;
  if (isId(site)) return { site };
  if (isId(logger)) return { logger };
  return site === undefined && logger === undefined ? null : undefined;
}

export type LiveFrame =
  | HelloFrame
  | SamplesFrame
  | LoggerFrame
  | ProgressFrame
  | ChangedFrame
  | MissedFrame
  | FindingsFrame;

export const LIVE_FRAME_TYPES = ['hello', 'samples', 'logger', 'progress', 'changed', 'missed', 'findings'] as const;

/** A frame of a known type and version, or undefined. Fields are trusted: they come from our own server. */
export function readLiveFrame(text: string): LiveFrame | undefined {
  let frame: unknown;
  try {
    frame = JSON.parse(text);
  } catch {
    return undefined;
  }
  if (typeof frame !== 'object' || frame === null) return undefined;
  const { type, version } = frame as { type?: unknown; version?: unknown };
  if (version !== LIVE_VERSION || !(LIVE_FRAME_TYPES as readonly unknown[]).includes(type)) return undefined;
  return frame as LiveFrame;
}
