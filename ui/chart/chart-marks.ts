import type { FindingsDocument } from '../../api/analysis/findings.ts';
import type { SiteTime } from '../site-time.ts';
import type { Span } from '../view-state.ts';
import { nightSpans } from './axis-splits.ts';

/*
 * What is drawn besides lines: night, low supply, own draws, pump starts, thresholds, changes. Each mark differs by
 * shape or pattern as well as by colour. Picked out here for a span; chart-paint.ts puts them on a canvas.
 */

/** Night is what lies outside both windows in which sags are looked for (05:00–11:00 and 17:00–23:00). */
export const NIGHT = { fromHour: 23, toHour: 5 } as const;
/** Nights are shaded up to this span; beyond it they would be a grey haze. */
const NIGHTS_UP_TO_MS = 32 * 86_400_000;

export interface Mark {
  readonly fromMs: number;
  readonly toMs: number;
}

export interface LabelledMark extends Mark {
  readonly label: string;
  readonly certain: boolean;
}

export interface ChartMarks {
  readonly nights: readonly Mark[];
  readonly low: readonly LabelledMark[];
  /** Own draws, along the foot. */
  readonly draws: readonly Mark[];
  /** Pump starts, along the head. */
  readonly starts: readonly Mark[];
  readonly changes: readonly { readonly atMs: number; readonly label: string }[];
  readonly thresholds: readonly { readonly bar: number; readonly label: string }[];
  /** The newest sample, while the chart follows it. */
  readonly newest?: { readonly atMs: number; readonly bar: number } | undefined;
  /** The finding that is open. */
  readonly chosen: Mark | undefined;
}

/** Marks that touch a span. `timesOf` words the ends of a low period. */
export function marksIn(
  findings: FindingsDocument | undefined,
  span: Span,
  time: SiteTime,
  timesOf: (fromMs: number, toMs: number) => string,
  chosen?: Mark,
): ChartMarks {
  const nights = span.toMs - span.fromMs <= NIGHTS_UP_TO_MS ? nightSpans(span.fromMs, span.toMs, NIGHT, time) : [];
  if (!findings) return { nights, low: [], draws: [], starts: [], changes: [], thresholds: [], chosen };
  const touches = (mark: Mark) => mark.toMs > span.fromMs && mark.fromMs < span.toMs;
  const interval = (item: { start: string; end: string }) => ({
    fromMs: Date.parse(item.start),
    toMs: Date.parse(item.end),
  });
  const inlet = findings.weakInlet.length > 0 || findings.series.position === 'pump_inlet';
  return {
    nights,
    low: findings.lowSupply
      .map((period) => {
        const mark = interval(period);
        return { ...mark, certain: period.certainty === 'certain', label: timesOf(mark.fromMs, mark.toMs) };
      })
      .filter(touches),
    draws: findings.draws.map(interval).filter(touches),
    starts: findings.pumpStarts
      .map((start) => ({ fromMs: Date.parse(start.start), toMs: Date.parse(start.stop ?? start.start) + 1 }))
      .filter(touches),
    changes: findings.changes
      .map((change) => ({ atMs: Date.parse(change.at), label: `lasting change (${change.kind})` }))
      .filter((change) => change.atMs >= span.fromMs && change.atMs < span.toMs),
    thresholds: [
      ...(findings.series.position === 'pump_outlet'
        ? []
        : [{ bar: findings.thresholds.lowSupplyBar, label: `low supply ${findings.thresholds.lowSupplyBar} bar` }]),
      ...(inlet
        ? [{ bar: findings.thresholds.weakInletBar, label: `weak inlet ${findings.thresholds.weakInletBar} bar` }]
        : []),
    ],
    chosen,
  };
}
