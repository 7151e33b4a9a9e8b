import type { Channel } from './model/channel.ts';
import type { EpochMs } from './model/units.ts';

/** Told after a commit, so that the page and the watch can follow. Values as sent. */
export interface StoredNotice {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly unit: string;
  readonly arrivedMs: EpochMs;
  readonly timeMs: Float64Array;
  readonly value: Float64Array;
  /** Bits of SAMPLE_FLAG; undefined where all are nought. */
  readonly flags?: Uint8Array | undefined;
}

/** What a logger's connection is doing, for the page. */
export interface LoggerPresence {
  readonly loggerId: string;
  readonly state: 'online' | 'offline' | 'unknown';
  readonly sinceMs: EpochMs;
}

/** What can keep us from an outside broker; each has its words in `ingest/subscriber-faults.ts`. */
export const BROKER_FAULTS = [
  'away',
  'lost',
  'not_welcome',
  'certificate',
  'busy',
  'no_mqtt',
  'not_allowed',
  'pushed_out',
  'refused',
] as const;
export type BrokerFault = (typeof BROKER_FAULTS)[number];

export interface BrokerHealth {
  /** `listening`/`connected` are well; the others say why not in `message`. */
  readonly state: 'listening' | 'connected' | 'connecting' | 'failing' | 'stopped';
  readonly message: string | undefined;
  readonly address: string;
  readonly fault?: BrokerFault | undefined;
  /** What was lost though all is well again, in words. */
  readonly note?: string | undefined;
  /** How often the broker no longer knew us though it should have, since this program's start. */
  readonly sessionsLost?: number | undefined;
}

export interface IntakeCounters {
  messages: number;
  stored: number;
  duplicate: number;
  conflict: number;
  /** Samples of hours that were erased by age: acknowledged, and left out. */
  erased: number;
  refused: number;
  /** Messages accepted but not yet committed. */
  waiting: number;
}

/** Where parts write their log lines: fields first, then the sentence, as pino takes them. */
export interface Log {
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}
