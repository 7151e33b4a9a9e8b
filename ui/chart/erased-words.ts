import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { dateAndClock } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import type { Span } from '../view-state.ts';

/** What was erased by age of a span, so that finding nothing there isn't taken for nothing having been there. */
export interface ErasedPart {
  readonly whole: boolean;
  readonly words: string;
}

/** Undefined where every single reading of the span stands, or the findings aren't there yet. */
export function erasedPart(
  findings: Pick<FindingsDocument, 'coverage'> | undefined,
  span: Span,
  time: SiteTime,
): ErasedPart | undefined {
  const parts = (findings?.coverage.rawErased ?? [])
    .map(({ start, end }) => ({
      fromMs: Math.max(Date.parse(start), span.fromMs),
      toMs: Math.min(Date.parse(end), span.toMs),
    }))
    .filter(({ fromMs, toMs }) => fromMs < toMs);
  const first = parts[0];
  const last = parts.at(-1);
  if (!first || !last) return undefined;
  const whole = parts.length === 1 && first.fromMs === span.fromMs && first.toMs === span.toMs;
  const which = whole
    ? 'The single readings of this span'
    : `Single readings from ${dateAndClock(first.fromMs, time)} to ${dateAndClock(last.toMs, time)}`;
  return {
    whole,
    words: `${which} were erased by age, as the site is set. The lowest and highest of each minute are drawn; low supply, sags, faults and own draws can’t be found there any more.`,
  };
}
