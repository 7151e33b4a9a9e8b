import type { Pattern } from '../analysis/findings.ts';
import { pressureScale } from './pressure-scale.ts';

/** A place on the clock (hours since midnight, 0 to 24) and bar. */
export interface ClockPoint {
  readonly hour: number;
  readonly bar: number;
}

export interface OverlayDay {
  readonly day: string;
  readonly weekend: boolean;
  readonly sagging: boolean;
  /** Unbroken pieces; between them nothing is known. */
  readonly pieces: readonly (readonly ClockPoint[])[];
  /** What lies in the lower half of a sag, and the quarter hours beside it: drawn strongly. */
  readonly sagPieces: readonly (readonly ClockPoint[])[];
  readonly lowest: ClockPoint | undefined;
  /** The lowest point of each window that sags: where a mark stands. */
  readonly marks: readonly ClockPoint[];
}

export interface OverlayBand {
  readonly weekend: boolean;
  readonly countDays: number;
  readonly saggingDays: number;
  /** A tenth of the days lay below, half of them, and nine tenths. */
  readonly low: readonly (readonly ClockPoint[])[];
  readonly middle: readonly (readonly ClockPoint[])[];
  readonly high: readonly (readonly ClockPoint[])[];
}

export interface OverlayFigure {
  readonly slotMinutes: number;
  readonly countDays: number;
  readonly days: readonly OverlayDay[];
  readonly bands: readonly OverlayBand[];
  readonly topBar: number;
  readonly ticksBar: readonly number[];
  readonly thresholdBar: number | undefined;
}

/** The hours of a sag's window, and the hour of recovery past it. */
const WINDOW_HOURS = { morning: [5, 12], evening: [17, 24] } as const;

/** The days over one another by the clock on the wall. */
export function overlayFigure(pattern: Pick<Pattern, 'overlays' | 'below'>): OverlayFigure {
  const { slotMinutes, countDays, days, bands } = pattern.overlays;
  const thresholdBar = pattern.below?.thresholdBar;
  let highest = (thresholdBar ?? 0) * 1.1;
  for (const list of [...days.map(({ bar }) => bar), ...bands.map(({ q90 }) => q90)])
    for (const value of list) if (value !== null && value > highest) highest = value;
  const { top, ticks } = pressureScale(highest, 1, 0);
  return {
    slotMinutes,
    countDays,
    days: days.map(({ day, weekday, sags, bar }): OverlayDay => {
      const points = clockPoints(bar, slotMinutes);
      const windows = sags.map((window) => {
        const [from, to] = WINDOW_HOURS[window];
        return points.map((point) => (point && point.hour >= from && point.hour < to ? point : undefined));
      });
      return {
        day,
        weekend: weekday > 5,
        sagging: sags.length > 0,
        pieces: unbroken(points),
        sagPieces: windows.flatMap((window) => unbroken(lowerHalf(window))),
        lowest: lowestOf(points),
        marks: windows.flatMap((window) => lowestOf(window) ?? []),
      };
    }),
    bands: bands.map(({ days: kind, q10, q50, q90, ...counts }) => ({
      weekend: kind === 'weekend',
      countDays: counts.countDays,
      saggingDays: counts.saggingDays,
      low: unbroken(clockPoints(q10, slotMinutes)),
      middle: unbroken(clockPoints(q50, slotMinutes)),
      high: unbroken(clockPoints(q90, slotMinutes)),
    })),
    topBar: top,
    ticksBar: ticks,
    thresholdBar,
  };
}

/** Each value at the middle of its slot. */
function clockPoints(bar: readonly (number | null)[], slotMinutes: number): (ClockPoint | undefined)[] {
  return bar.map((value, slot) =>
    value === null ? undefined : { hour: ((slot + 0.5) * slotMinutes) / 60, bar: value },
  );
}

function unbroken(points: readonly (ClockPoint | undefined)[]): ClockPoint[][] {
  const pieces: ClockPoint[][] = [];
  let open = false;
  for (const point of points) {
    if (point && open) pieces.at(-1)!.push(point);
    else if (point) pieces.push([point]);
    open = point !== undefined;
  }
  return pieces;
}

/** The run about a window's lowest point below half of its fall, as a sag's times are told, and a point at each side. */
function lowerHalf(window: readonly (ClockPoint | undefined)[]): (ClockPoint | undefined)[] {
  const lowest = lowestOf(window);
  if (!lowest) return [];
  const highest = Math.max(...window.flatMap((point) => (point ? [point.bar] : [])));
  const half = (lowest.bar + highest) / 2;
  const isLow = (index: number) => (window[index]?.bar ?? Number.POSITIVE_INFINITY) < half;
  let from = window.indexOf(lowest);
  let to = from + 1;
  while (isLow(from - 1)) from--;
  while (isLow(to)) to++;
  return window.slice(Math.max(0, from - 1), to + 1);
}

function lowestOf(points: readonly (ClockPoint | undefined)[]): ClockPoint | undefined {
  let lowest: ClockPoint | undefined;
  for (const point of points) if (point && (!lowest || point.bar < lowest.bar)) lowest = point;
  return lowest;
}
