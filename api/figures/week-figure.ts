import type { Pattern } from '../analysis/findings.ts';

/** Shades of the table, the palest for the highest pressure: more than these aren't told apart. */
export const SHADES = 6;
/**
 * The shades span this much at least: a steady street must not look as if it had bad hours. As the smallest sag
 * (common practice, no source).
 */
const LEAST_SPAN_BAR = 0.3;
const ROUND_STEPS = [0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5];

export interface WeekCell {
  /** Monday is 1. */
  readonly weekday: number;
  readonly hour: number;
  readonly medianBar: number;
  /** The pressure that a tenth of the hour's minutes lay below. */
  readonly lowBar: number;
  readonly minutes: number;
  readonly days: number;
  /** 0 to SHADES − 1, the more the lower. */
  readonly shade: number;
  /** `usually`: the median lies below the threshold; `at_times`: the lowest tenth does. */
  readonly below: 'usually' | 'at_times' | undefined;
}

export interface WeekFigure {
  /** Seven days, Monday first, of 24 hours; undefined where nothing is known. */
  readonly days: readonly (readonly (WeekCell | undefined)[])[];
  /** What each shade stands for, the palest first: from `fromBar` up to `toBar`. Those that occur. */
  readonly shades: readonly { readonly shade: number; readonly fromBar: number; readonly toBar: number }[];
  readonly knownCells: number;
  /** Fewest and most days that a known hour stands on. */
  readonly daysRange: readonly [number, number];
}

/**
 * The table of the week.
 * @param stepS of the standing pressure, in which the cells' counts are counted
 */
export function weekFigure(pattern: Pick<Pattern, 'hourOfWeek' | 'below'>, stepS: number): WeekFigure {
  const known = pattern.hourOfWeek.flatMap((cell) => (cell ? [cell.q50] : []));
  const daysKnown = pattern.hourOfWeek.flatMap((cell) => (cell ? [cell.days] : []));
  const scale = shadeScale(Math.min(...known), Math.max(...known));
  const thresholdBar = pattern.below?.thresholdBar ?? Number.NEGATIVE_INFINITY;
  const cells = pattern.hourOfWeek.map((cell, index): WeekCell | undefined =>
    cell
      ? {
          weekday: Math.floor(index / 24) + 1,
          hour: index % 24,
          medianBar: cell.q50,
          lowBar: cell.q10,
          minutes: Math.round((cell.count * stepS) / 60),
          days: cell.days,
          shade: scale.shadeOf(cell.q50),
          below: cell.q50 < thresholdBar ? 'usually' : cell.q10 < thresholdBar ? 'at_times' : undefined,
        }
      : undefined,
  );
  const seen = new Set(cells.map((cell) => cell?.shade));
  return {
    days: Array.from({ length: 7 }, (_, day) => cells.slice(day * 24, (day + 1) * 24)),
    shades: scale.shades.filter(({ shade }) => seen.has(shade)),
    knownCells: known.length,
    daysRange: [Math.min(...daysKnown), Math.max(...daysKnown)],
  };
}

/** Shades in round steps down from a round value at or above the highest median. */
export function shadeScale(
  lowestBar: number,
  highestBar: number,
): {
  readonly shadeOf: (bar: number) => number;
  readonly shades: readonly { readonly shade: number; readonly fromBar: number; readonly toBar: number }[];
} {
  const span = Math.max(LEAST_SPAN_BAR, highestBar - lowestBar);
  const rounded = (step: number) => Math.ceil(highestBar / step - 1e-9) * step;
  const step =
    ROUND_STEPS.find((candidate) => SHADES * candidate >= Math.max(span, rounded(candidate) - lowestBar)) ??
    ROUND_STEPS.at(-1)!;
  const top = rounded(step);
  return {
    // A median just on an edge belongs to the paler shade, whose words say "from".
    shadeOf: (bar) => Math.min(SHADES - 1, Math.max(0, Math.ceil((top - bar) / step - 1e-9) - 1)),
    shades: Array.from({ length: SHADES }, (_, shade) => ({
      shade,
      fromBar: Math.max(0, tidy(top - (shade + 1) * step)),
      toBar: tidy(top - shade * step),
    })),
  };
}

function tidy(bar: number): number {
  return Math.round(bar * 1000) / 1000;
}
