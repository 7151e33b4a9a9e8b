import type { Pattern } from '../analysis/findings.ts';
import { pressureScale } from './pressure-scale.ts';

export interface DurationFigure {
  /** From the lowest pressure to the highest: `share` of the known time lies below `bar`. */
  readonly points: readonly { readonly share: number; readonly bar: number }[];
  readonly topBar: number;
  readonly ticksBar: readonly number[];
  readonly thresholdBar: number | undefined;
  /** Share of the known time below the threshold. */
  readonly belowShare: number | undefined;
}

/** Shares that are told in figures beside the curve. */
const TOLD_SHARES = [0, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 1];

/** The pressure-duration curve, read as "for this share of the time pressure was below". */
export function durationFigure(pattern: Pick<Pattern, 'durationCurve' | 'below'>): DurationFigure {
  const points = [...pattern.durationCurve].reverse().map(({ share, bar }) => ({ share: 1 - share, bar }));
  const thresholdBar = pattern.below?.thresholdBar;
  const { top, ticks } = pressureScale(Math.max(points.at(-1)?.bar ?? 0, (thresholdBar ?? 0) * 1.1), 1, 0);
  return { points, topBar: top, ticksBar: ticks, thresholdBar, belowShare: pattern.below?.share };
}

/** The curve as rows of figures: share of the time, and the pressure that it was below; the first is the lowest. */
export function durationRows(figure: DurationFigure): { share: number; bar: number }[] {
  return TOLD_SHARES.flatMap((share) =>
    figure.points.filter((point) => Math.abs(point.share - share) < 1e-9).slice(0, 1),
  );
}
