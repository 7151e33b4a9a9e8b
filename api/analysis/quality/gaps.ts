import type { MarkedFault } from './marked-fault.ts';

/** Definition of a gap: at least 60 s or three intervals, whichever is longer. */
export const GAP_MS = 60_000;
export const GAP_INTERVALS = 3;

export function gapLimitMs(intervalMs: number): number {
  return Math.max(GAP_MS, GAP_INTERVALS * intervalMs);
}

/** Stretches without a sample, from where the next one was due to where it came. */
export function findGaps(timeMs: Float64Array, intervalMs: number): MarkedFault[] {
  const limit = gapLimitMs(intervalMs);
  const gaps: MarkedFault[] = [];
  for (let i = 1; i < timeMs.length; i++) {
    const startMs = timeMs[i - 1]! + intervalMs;
    const endMs = timeMs[i]!;
    if (endMs - startMs < limit) continue;
    gaps.push({ kind: 'gap', startMs, endMs });
  }
  return gaps;
}

/**
 * Gaps without the time of which is known why no row is there (hours erased by age, samples under a wrong clock); what is
 * left of one counts where it is long enough by itself.
 * @param known ascending, not overlapping
 */
export function gapsOutside(
  gaps: readonly MarkedFault[],
  known: readonly { readonly fromMs: number; readonly toMs: number }[],
  intervalMs: number,
): MarkedFault[] {
  const limit = gapLimitMs(intervalMs);
  return gaps.flatMap((gap) => {
    const parts: MarkedFault[] = [];
    let from = gap.startMs;
    for (const span of known) {
      if (span.toMs <= from || span.fromMs >= gap.endMs) continue;
      if (span.fromMs - from >= limit) parts.push({ ...gap, startMs: from, endMs: span.fromMs });
      from = Math.max(from, span.toMs);
    }
    if (from === gap.startMs) return [gap];
    if (gap.endMs - from >= limit) parts.push({ ...gap, startMs: from, endMs: gap.endMs });
    return parts;
  });
}
