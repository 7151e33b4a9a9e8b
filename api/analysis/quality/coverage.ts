import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { localDays } from '../../../collector/model/local-time.ts';
import type { AnalysisSite, FindingsDocument } from '../findings.ts';

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
    ...told,
  };
}

/** How much of [fromMs, toMs) was erased. */
function erasedMs(rawErased: NonNullable<AnalysisSite['rawErased']>, fromMs: number, toMs: number): number {
  return rawErased.reduce(
    (sum, span) => sum + Math.max(0, Math.min(toMs, span.toMs) - Math.max(fromMs, span.fromMs)),
    0,
  );
}
