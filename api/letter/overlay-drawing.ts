import type { ClockPoint, OverlayBand, OverlayDay, OverlayFigure } from '../figures/overlay-figure.ts';
import type { Drawing, Ink, Shape } from './drawing.ts';
import { footLabels, legendLine, PLOT, pressureAxis, thresholdLine } from './pattern-drawing.ts';

const BOTTOM = 150;
const WEEKEND_DASH = [3, 1.8] as const;
const MARK = 2.4;

/** All days over one another from 00 to 24 by the clock: weekdays solid, weekend dashed, what sags strong and marked. */
export function overlayDrawing(figure: OverlayFigure, description: string): Drawing {
  const x = (hour: number) => PLOT.left + (hour / 24) * (PLOT.right - PLOT.left);
  const y = (bar: number) => BOTTOM - (Math.min(Math.max(bar, 0), figure.topBar) / figure.topBar) * (BOTTOM - PLOT.top);
  const place = ({ hour, bar }: ClockPoint) => [x(hour), y(bar)] as const;
  const shapes: Shape[] = [...pressureAxis(figure.ticksBar, y, BOTTOM)];
  shapes.push(...figure.bands.flatMap((band) => bandShapes(band, place)));
  for (const day of figure.days) shapes.push(...lines(day, day.pieces, 'faint', 0.4, place));
  for (const day of figure.days) shapes.push(...lines(day, day.sagPieces, 'water', 0.9, place));
  shapes.push(...thresholdLine(figure.thresholdBar, y));
  for (const day of figure.days) for (const mark of day.marks) shapes.push(markShape(place(mark)));
  const hours = [0, 3, 6, 9, 12, 15, 18, 21, 24];
  shapes.push(
    ...footLabels(
      hours.map((hour) => ({ x: x(hour), text: String(hour).padStart(2, '0') })),
      BOTTOM,
    ),
  );
  const words =
    figure.bands.length > 0
      ? 'Solid: median of the weekdays; pale, all but the lowest and the highest tenth of them. Dashed: median of the weekend; thin, its lowest tenth.'
      : 'Solid: weekdays. Dashed: weekend. Strong, with a triangle under the lowest point: the morning or evening of a day that sags.';
  shapes.push(legendLine(words, BOTTOM + 22));
  return { width: PLOT.width, height: BOTTOM + 28, description, shapes };
}

function lines(
  { weekend }: OverlayDay,
  pieces: OverlayDay['pieces'],
  ink: Ink,
  width: number,
  place: (point: ClockPoint) => readonly [number, number],
): Shape[] {
  return pieces
    .filter((piece) => piece.length > 1)
    .map((piece) => ({
      kind: 'line',
      points: piece.map(place),
      ink,
      width,
      ...(weekend ? { dash: WEEKEND_DASH } : {}),
    }));
}

/** Weekdays as a band about their median; the weekend as lines, so that one can be seen over the other. */
function bandShapes(band: OverlayBand, place: (point: ClockPoint) => readonly [number, number]): Shape[] {
  const line = (piece: readonly ClockPoint[], width: number): Shape => ({
    kind: 'line',
    points: piece.map(place),
    ink: 'water',
    width,
    ...(band.weekend ? { dash: WEEKEND_DASH } : {}),
  });
  const middle = band.middle.map((piece) => line(piece, 1.1));
  if (band.weekend) return [...band.low.map((piece) => line(piece, 0.5)), ...middle];
  const areas = band.low.map(
    (piece, index): Shape => ({
      kind: 'area',
      points: [...piece.map(place), ...[...(band.high[index] ?? [])].reverse().map(place)],
      ink: 'waterSoft',
    }),
  );
  return [...areas, ...middle];
}

function markShape([x, y]: readonly [number, number]): Shape {
  return {
    kind: 'area',
    points: [
      [x, y + 1.5],
      [x + MARK, y + 1.5 + 2 * MARK],
      [x - MARK, y + 1.5 + 2 * MARK],
    ],
    ink: 'earth',
  };
}
