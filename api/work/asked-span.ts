import { formatRfc3339, parseRfc3339 } from '../../collector/model/instant.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { EpochMs } from '../../collector/model/units.ts';

/** A span as asked for; a missing end is open. */
export interface AskedSpan {
  readonly fromMs: EpochMs | undefined;
  readonly toMs: EpochMs | undefined;
}

/** Reads `from` and `to` of a (checked) query. Throws Problem `span_wrong` unless `from` is before `to`. */
export function askedSpan(query: { from?: string | undefined; to?: string | undefined }): AskedSpan {
  const fromMs = query.from === undefined ? undefined : parseRfc3339(query.from);
  const toMs = query.to === undefined ? undefined : parseRfc3339(query.to);
  if (fromMs !== undefined && toMs !== undefined && fromMs >= toMs)
    throw new Problem(
      'span_wrong',
      `from (${formatRfc3339(fromMs)}) is not before to (${formatRfc3339(toMs)})`,
      'Give the earlier time as from; spans are half open, [from, to)',
    );
  return { fromMs, toMs };
}

/**
 * Fills an open end from what is recorded (the newest where that is longer than `limitMs`).
 * Throws Problem `span_too_long` where both ends were given and lie further apart.
 */
export function closedSpan(
  asked: AskedSpan,
  recorded: { firstMs: EpochMs; lastMs: EpochMs } | undefined,
  limitMs: number,
  nowMs: EpochMs,
): { fromMs: EpochMs; toMs: EpochMs } {
  if (asked.fromMs !== undefined && asked.toMs !== undefined) {
    if (asked.toMs - asked.fromMs > limitMs)
      throw new Problem(
        'span_too_long',
        `The span is ${Math.ceil((asked.toMs - asked.fromMs) / 86_400_000)} days long; at most ${limitMs / 86_400_000} are taken at once`,
        'Ask for a shorter span, or for several one after another',
      );
    return { fromMs: asked.fromMs, toMs: asked.toMs };
  }
  const endOfRecord = recorded ? recorded.lastMs + 1 : nowMs;
  if (asked.fromMs !== undefined)
    return { fromMs: asked.fromMs, toMs: Math.min(Math.max(endOfRecord, asked.fromMs + 1), asked.fromMs + limitMs) };
  const toMs = asked.toMs ?? endOfRecord;
  return { fromMs: Math.max(Math.min(recorded?.firstMs ?? toMs - 1, toMs - 1), toMs - limitMs), toMs };
}
