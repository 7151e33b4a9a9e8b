import { WEEKDAY_NAMES } from '../figures/pattern-words.ts';
import type { WeekFigure } from '../figures/week-figure.ts';
import type { Drawing, Ink, Shape } from './drawing.ts';

const WIDTH = 500;
const LEFT = 34;
const COLUMN = (WIDTH - LEFT) / 24;
const HEAD = 14;
const ROW = 15;
const SHADE_INKS: readonly (Ink | undefined)[] = [undefined, 'shade1', 'shade2', 'shade3', 'shade4', 'shade5'];
const SWATCH = 9;

/** The table of the week: a row a weekday, a column an hour, each with its median; the lower the darker. */
export function weekDrawing(figure: WeekFigure, description: string): Drawing {
  const bottom = HEAD + 7 * ROW;
  const shapes: Shape[] = [];
  for (let hour = 0; hour < 24; hour++)
    shapes.push({
      kind: 'text',
      x: LEFT + (hour + 0.5) * COLUMN,
      y: HEAD - 4,
      text: String(hour).padStart(2, '0'),
      size: 7,
      ink: 'faint',
      anchor: 'middle',
    });
  for (const [day, cells] of figure.days.entries()) {
    const top = HEAD + day * ROW;
    shapes.push({
      kind: 'text',
      x: LEFT - 5,
      y: top + ROW / 2 + 2.5,
      text: WEEKDAY_NAMES[day]!.slice(0, 3),
      size: 7,
      ink: 'ink',
      anchor: 'end',
    });
    for (const [hour, cell] of cells.entries()) {
      if (!cell) continue;
      const x = LEFT + hour * COLUMN;
      const ink = SHADE_INKS[cell.shade];
      if (ink) shapes.push({ kind: 'box', x, y: top, width: COLUMN, height: ROW, ink });
      shapes.push({
        kind: 'text',
        x: x + COLUMN / 2,
        y: top + ROW / 2 + 2,
        text: cell.medianBar.toFixed(cell.medianBar < 9.995 ? 2 : 1),
        size: 6.5,
        ink: 'ink',
        anchor: 'middle',
      });
      if (cell.below)
        shapes.push({
          kind: 'line',
          points: [
            [x + 2, top + ROW - 1.8],
            [x + COLUMN - 2, top + ROW - 1.8],
          ],
          ink: 'ink',
          width: cell.below === 'usually' ? 1.2 : 0.6,
          ...(cell.below === 'usually' ? {} : { dash: [1.5, 1.5] }),
        });
    }
  }
  for (let row = 0; row <= 7; row++)
    shapes.push({
      kind: 'line',
      points: [
        [LEFT, HEAD + row * ROW],
        [WIDTH, HEAD + row * ROW],
      ],
      ink: 'rule',
      width: 0.4,
    });
  shapes.push(...legend(figure, bottom + 8));
  return { width: WIDTH, height: bottom + 34, description, shapes };
}

function legend(figure: WeekFigure, top: number): Shape[] {
  const shapes: Shape[] = [];
  let x = LEFT;
  for (const { shade, fromBar, toBar } of figure.shades) {
    const ink = SHADE_INKS[shade];
    shapes.push({ kind: 'box', x, y: top, width: SWATCH, height: SWATCH, ink: 'rule' });
    shapes.push({
      kind: 'box',
      x: x + 0.4,
      y: top + 0.4,
      width: SWATCH - 0.8,
      height: SWATCH - 0.8,
      ink: ink ?? 'paper',
    });
    shapes.push({
      kind: 'text',
      x: x + SWATCH + 4,
      y: top + 7,
      text: `${fromBar} to ${toBar} bar`,
      size: 6.5,
      ink: 'faint',
      anchor: 'start',
    });
    x += 74;
  }
  const marked = new Set(figure.days.flat().map((cell) => cell?.below));
  const words = [
    ...(marked.has('usually') ? ['Underlined: the median is below the threshold.'] : []),
    ...(marked.has('at_times')
      ? ['Dashed line under a value: the lowest tenth of the hour’s minutes is below it.']
      : []),
  ];
  if (words.length > 0)
    shapes.push({
      kind: 'text',
      x: LEFT,
      y: top + 20,
      text: words.join(' '),
      size: 6.5,
      ink: 'faint',
      anchor: 'start',
    });
  return shapes;
}
