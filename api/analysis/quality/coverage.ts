import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { localDays } from '../../../collector/model/local-time.ts';
import type { AnalysisSite, FindingsDocument } from '../findings.ts';
import { gapLimitMs } from './gaps.ts';

/**
 * Samples expected, received and usable, per local day and in all. A first or last day counts from the first sample
 * or to the last one. Hours whose samples were erased by age are not expected.
 */
export function coverage(
  timeMs: Float64Array,
  usableBar: Float64Array,
  intervalMs: number,
  timeZone: string,
  rawErased: NonNullable<AnalysisSite['rawErased']> = [],
): FindingsDocument['coverage'] {
  const told =
    rawErased.length === 0
      ? {}
      : { rawErased: rawErased.map((span) => ({ start: formatRfc3339(span.fromMs), end: formatRfc3339(span.toMs) })) };
  if (timeMs.length === 0) return { expected: 0, received: 0, validFraction: 0, days: [], ...told };
  const startMs = timeMs[0]!;
  const endMs = timeMs[timeMs.length - 1]! + intervalMs;
  let row = 0;
  let usable = 0;
  let expectedInAll = 0;
  const days = localDays(startMs, endMs, timeZone).map((day) => {
    const from = Math.max(day.startMs, startMs);
    const to = Math.min(day.endMs, endMs);
    let received = 0;
    let valid = 0;
    for (; row < timeMs.length && timeMs[row]! < day.endMs; row++) {
      received++;
      if (Number.isFinite(usableBar[row]!)) valid++;
    }
    const expected = Math.max(received, Math.round((to - from - erasedMs(rawErased, from, to)) / intervalMs));
    usable += valid;
    expectedInAll += expected;
    return { day: day.date, expected, received, valid };
  });
  return {
    expected: expectedInAll,
    received: timeMs.length,
    validFraction: usable / Math.max(1, expectedInAll),
    days,
    ...reasonOf(timeMs, intervalMs),
    ...told,
  };
}

/** Longer than this many usual steps is no late reading but another rate. */
const OTHER_RATE = 1.5;
/** From this share of the steps on, the log has no one rate. */
const IRREGULAR_SHARE = 0.1;

/** Why readings are missing though nothing failed: the log has no one rate. */
function reasonOf(timeMs: Float64Array, intervalMs: number): { readonly reason?: string } {
  const steps = timeMs.length - 1;
  let longer = 0;
  let longest = 0;
  for (let i = 1; i <= steps; i++) {
    const step = timeMs[i]! - timeMs[i - 1]!;
    if (step <= OTHER_RATE * intervalMs || step - intervalMs >= gapLimitMs(intervalMs)) continue;
    longer++;
    longest = Math.max(longest, step);
  }
  if (!(longer > IRREGULAR_SHARE * steps)) return {};
  const seconds = (ms: number) => `${Number((ms / 1000).toPrecision(3))} s`;
  return {
    reason: `The readings have no one rate: half of them come ${seconds(intervalMs)} or less after the one before, ${Math.round((100 * longer) / steps)} in a hundred later, up to ${seconds(longest)}. Readings are expected every ${seconds(intervalMs)}.`,
  };
}

/** How much of [fromMs, toMs) was erased. */
function erasedMs(rawErased: NonNullable<AnalysisSite['rawErased']>, fromMs: number, toMs: number): number {
  return rawErased.reduce(
    (sum, span) => sum + Math.max(0, Math.min(toMs, span.toMs) - Math.max(fromMs, span.fromMs)),
    0,
  );
}
