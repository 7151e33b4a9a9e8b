import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { Fault, FaultKind } from '../findings.ts';

/** A fault in logged time, half open, in epoch milliseconds. */
export interface MarkedFault {
  readonly kind: FaultKind;
  readonly startMs: number;
  readonly endMs: number;
  readonly count?: number;
  readonly detail?: string;
  /** The log's column, where it isn't the pressure. */
  readonly column?: 'inlet_bar';
}

/** Ascending by start, in the document's form. */
export function faultsOfDocument(faults: readonly MarkedFault[]): Fault[] {
  return [...faults]
    .sort((a, b) => a.startMs - b.startMs || a.endMs - b.endMs)
    .map(({ startMs, endMs, ...rest }) => ({ ...rest, start: formatRfc3339(startMs), end: formatRfc3339(endMs) }));
}

/** Joins faults of one kind that lie no further apart than `withinMs`; counts add up. */
export function joinSpells(faults: readonly MarkedFault[], withinMs: number): MarkedFault[] {
  const joined: { -readonly [Key in keyof MarkedFault]: MarkedFault[Key] }[] = [];
  for (const fault of [...faults].sort((a, b) => a.startMs - b.startMs)) {
    const last = joined.at(-1);
    if (last && last.kind === fault.kind && fault.startMs - last.endMs <= withinMs) {
      last.endMs = Math.max(last.endMs, fault.endMs);
      last.count = (last.count ?? 1) + (fault.count ?? 1);
    } else joined.push({ ...fault });
  }
  return joined;
}
