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
  const belowWidth = (belowShare ?? 0) * (PLOT.right - PLOT.left);
  const hatched = thresholdBar !== undefined && belowWidth >= NARROWEST_HATCH;
  if (hatched)
    shapes.push({
      kind: 'hatch',
      x: PLOT.left,
      y: y(thresholdBar),
      width: belowWidth,
      height: BOTTOM - y(thresholdBar),
      ink: 'earth',
      outline: 'solid',
    });
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
  const line = 'Line: standing pressure. Along the foot: share of the time that is known.';
  const below =
    belowShare === undefined || thresholdBar === undefined
      ? ''
      : ` Dashed line: threshold, ${belowShare === 0 ? 'never' : `for ${percent(belowShare)} of the time`} above the curve${hatched ? ' (hatched)' : ''}.`;
  shapes.push(legendLine(line + below, BOTTOM + 22));
  return { width: PLOT.width, height: BOTTOM + 28, description, shapes };
}
