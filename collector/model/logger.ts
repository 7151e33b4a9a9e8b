import type { Channel, Position } from './channel.ts';
import type { DeviceMapping } from './device-mapping.ts';
import type { Bar, EndPoint, EpochMs } from './units.ts';

/** How one channel of a logger is to be read from a moment on. Dated: a change never alters what was stored. */
export interface ChannelSetting {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly fromMs: EpochMs;
  /** Unit of values that don't carry their own. */
  readonly unit: string;
  /** Measuring range in bar (pressure only). */
  readonly rangeBar?: readonly [Bar, Bar] | undefined;
  /** Limits of error ±a in bar, rectangular (pressure only). Missing: 1 % of the range is assumed, and said. */
  readonly accuracyBar?: Bar | undefined;
  /** Two points of the transducer's line, needed for V, mV, mA and counts. */
  readonly endPoints?: readonly [EndPoint, EndPoint] | undefined;
  /** Logging interval in seconds where the logger states it; else it is found from the data. */
  readonly intervalS?: number | undefined;
}

/** Comparison with a gauge: the true value was `gain · read + offset` from `fromMs` on. */
export interface Calibration {
  readonly loggerId: string;
  readonly channel: Channel;
  readonly fromMs: EpochMs;
  readonly gain: number;
  readonly offset: number;
  /** Standard uncertainty that remains after the calibration, in the channel's canonical unit. */
  readonly standardUncertainty: number;
  readonly note: string;
}

/** Where a logger was from a moment on. `siteId` undefined: taken away, in nobody's house. */
export interface Placement {
  readonly loggerId: string;
  readonly fromMs: EpochMs;
  readonly siteId: string | undefined;
  readonly position: Position;
  /** Height of the transducer above the boundary stop tap, in metres (negative: below). */
  readonly heightAboveSupplyPointM: number;
}

export interface Logger {
  readonly id: string;
  readonly createdMs: EpochMs;
  /** SHA-256 of the key, hex; the key itself is shown once and not kept. */
  readonly keySha256: string;
  readonly hiddenMs?: EpochMs | undefined;
  /** For a device that publishes in a form of its own; missing: our topics and payloads only. */
  readonly mapping?: DeviceMapping | undefined;
}
