import type { Channel } from '../../collector/model/channel.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { LoggerStateCode } from './payloads.ts';

/*
 * What the WebSocket at /api/live says: one JSON frame a message, each with its type and the version of this list.
 * The page sends nothing. Readers ignore types they don't know.
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

export type LiveFrame = HelloFrame | SamplesFrame | LoggerFrame | ProgressFrame | ChangedFrame | MissedFrame;

export const LIVE_FRAME_TYPES = ['hello', 'samples', 'logger', 'progress', 'changed', 'missed'] as const;

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
