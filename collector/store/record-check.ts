import type { Channel } from '../model/channel.ts';
import type { EpochMs } from '../model/units.ts';

/** What a full check of the record can find. */
export const RECORD_FAULT_KINDS = [
  /** The file's own structure is damaged: pages, indexes. */
  'file_damaged',
  /** A sealed hour can't be unpacked. */
  'hour_unreadable',
  /** A sealed hour's samples don't give the SHA-256 it was sealed with. */
  'seal_differs',
  /** What is kept beside a sealed hour (count, extremes, sum, fingerprint) isn't what its samples give. */
  'columns_differ',
  /** Samples that aren't sealed yet can't be unpacked. */
  'piece_unreadable',
  /** The minutes kept for an hour aren't those of its samples. */
  'summary_differs',
  /** The count of a channel's samples isn't the sum over its hours. */
  'count_differs',
] as const;

export type RecordFaultKind = (typeof RECORD_FAULT_KINDS)[number];

export interface RecordFault {
  readonly kind: RecordFaultKind;
  /** Undefined where the fault lies in the file itself. */
  readonly loggerId: string | undefined;
  readonly channel: Channel | undefined;
  /** Start of the UTC hour; undefined where no single hour is meant. */
  readonly hourMs: EpochMs | undefined;
  /** What was seen. */
  readonly seen: string;
}

/** What a full check of the record found. */
export interface RecordCheck {
  /** Sealed hours whose samples were unpacked and sealed again for comparison. */
  readonly hours: number;
  readonly samples: number;
  /** The first `FAULTS_TOLD`. */
  readonly faults: readonly RecordFault[];
  readonly faultCount: number;
}

/** Faults told one by one; more of them say nothing new. */
export const FAULTS_TOLD = 1000;

/** How far a long task of upkeep is, in a unit of its own: hours of the record, pages of the file. */
export interface UpkeepProgress {
  readonly done: number;
  readonly total: number;
}

/** Long tasks over the whole record. They run beside the intake and hold it up nowhere. */
export interface RecordUpkeep {
  /** Reads everything, recomputes every seal and summary, and tells what differs. Changes nothing. */
  check(onProgress: (progress: UpkeepProgress) => void): Promise<RecordCheck>;
  /**
   * Writes a whole, consistent copy to `path` (a file that isn't there yet), as the record stood when it began.
   * Rejects with the store's Problems; what was written of the copy is then removed.
   */
  copyTo(path: string, onProgress: (progress: UpkeepProgress) => void): Promise<void>;
  /** Bytes that a copy takes. */
  copyBytes(): number;
  /** Gives up what is under way. */
  stop(): Promise<void>;
}
