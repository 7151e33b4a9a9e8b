import type { DurationFigure } from '../figures/duration-figure.ts';
import { percent } from '../figures/pattern-words.ts';
import type { Drawing, Shape } from './drawing.ts';
import { footLabels, legendLine, PLOT, pressureAxis, thresholdLine } from './pattern-drawing.ts';

const BOTTOM = 118;
/** A hatch narrower than this is a smear on paper. */
const NARROWEST_HATCH = 2;

/** The pressure-duration curve: across the share of the time, upwards the pressure that it was below. */
export function durationDrawing(figure: DurationFigure, description: string): Drawing {
  const x = (share: number) => PLOT.left + share * (PLOT.right - PLOT.left);
  const y = (bar: number) => BOTTOM - (Math.min(Math.max(bar, 0), figure.topBar) / figure.topBar) * (BOTTOM - PLOT.top);
  const shapes: Shape[] = [...pressureAxis(figure.ticksBar, y, BOTTOM)];
  const { thresholdBar, belowShare } = figure;
  if (thresholdBar !== undefined && belowShare !== undefined && belowShare > 0) {
    const width = x(belowShare) - PLOT.left;
    if (width >= NARROWEST_HATCH)
      shapes.push({
        kind: 'hatch',
        x: PLOT.left,
        y: y(thresholdBar),
        width,
        height: BOTTOM - y(thresholdBar),
        ink: 'earth',
        outline: 'solid',
      });
  }
  shapes.push(...thresholdLine(thresholdBar, y));
  shapes.push({
    kind: 'line',
    points: figure.points.map(({ share, bar }) => [x(share), y(bar)]),
    ink: 'water',
    width: 1.1,
  });
  const shares = [0, 0.1, 0.25, 0.5, 0.75, 0.9, 1];
  shapes.push(
    ...footLabels(
      shares.map((share) => ({ x: x(share), text: `${share * 100} %` })),
      BOTTOM,
    ),
  );
  shapes.push(
    legendLine(
      belowShare === undefined || thresholdBar === undefined
        ? 'Line: standing pressure. Along the foot: share of the time that is known.'
        : `Line: standing pressure. Along the foot: share of the time that is known. Dashed line: threshold${belowShare > 0 ? `; hatched: ${percent(belowShare)} of the time below it` : ', never below it'}.`,
      BOTTOM + 22,
    ),
  );
  return { width: PLOT.width, height: BOTTOM + 28, description, shapes };
}
