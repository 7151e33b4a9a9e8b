/** An interval in epoch milliseconds. */
export interface Span {
  readonly startMs: number;
  readonly endMs: number;
}

export interface Score {
  readonly truth: number;
  readonly found: number;
  readonly matched: number;
  /** Undefined where there is neither truth nor finding: no events, which is neither 0 nor 1. */
  readonly f1: number | undefined;
}

/** Overlap over union of two spans: [0, 60) and [20, 70) give 40/70. */
export function overlapOverUnion(a: Span, b: Span): number {
  const overlap = Math.min(a.endMs, b.endMs) - Math.max(a.startMs, b.startMs);
  if (overlap <= 0) return 0;
  return overlap / (Math.max(a.endMs, b.endMs) - Math.min(a.startMs, b.startMs));
}

/**
 * One-to-one matching of findings to labels, best overlap first. A pair matches from `leastOverlap` on, or where both
 * ends are within `toleranceMs`.
 */
export function matchSpans(
  truth: readonly Span[],
  found: readonly Span[],
  leastOverlap: number,
  toleranceMs: number,
): [number, number][] {
  const pairs: { t: number; f: number; score: number }[] = [];
  let first = 0;
  const order = found.map((_, f) => f).sort((a, b) => found[a]!.startMs - found[b]!.startMs);
  const longest = found.reduce((most, span) => Math.max(most, span.endMs - span.startMs), 0);
  const byStart = truth.map((_, t) => t).sort((a, b) => truth[a]!.startMs - truth[b]!.startMs);
  for (const t of byStart) {
    const label = truth[t]!;
    while (first < order.length && found[order[first]!]!.startMs < label.startMs - longest - toleranceMs) first++;
    for (let k = first; k < order.length; k++) {
      const f = order[k]!;
      const span = found[f]!;
      if (span.startMs > label.endMs + toleranceMs) break;
      const overlap = overlapOverUnion(label, span);
      const near =
        Math.abs(span.startMs - label.startMs) <= toleranceMs && Math.abs(span.endMs - label.endMs) <= toleranceMs;
      if (overlap >= leastOverlap || near) pairs.push({ t, f, score: near ? 1 + overlap : overlap });
    }
  }
  pairs.sort((a, b) => b.score - a.score);
  const takenTruth = new Set<number>();
  const takenFound = new Set<number>();
  const matched: [number, number][] = [];
  for (const { t, f } of pairs) {
    if (takenTruth.has(t) || takenFound.has(f)) continue;
    takenTruth.add(t);
    takenFound.add(f);
    matched.push([t, f]);
  }
  return matched;
}

/** F1 = 2TP/(2TP + FP + FN) (reference values: event scores). */
export function scoreOf(truth: number, found: number, matched: number): Score {
  return { truth, found, matched, f1: truth + found === 0 ? undefined : (2 * matched) / (truth + found) };
}
