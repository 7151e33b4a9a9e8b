import { type DurationFigure, durationRows } from '../../api/figures/duration-figure.ts';
import { percent } from '../../api/figures/pattern-words.ts';
import { bar } from '../format.ts';
import { el, svg } from '../parts/element.ts';
import { createFiguresBeside } from './figures-beside.ts';
import { axes, createPicture, EDGES, plotOf, thresholdMarks } from './plot.ts';

const HEIGHT = 260;
const FOOT = [0, 0.25, 0.5, 0.75, 1].map((share) => ({ share, text: `${share * 100}${share === 1 ? ' %' : ''}` }));

export interface DurationView {
  readonly figure: DurationFigure;
  readonly description: string;
  readonly width: number;
}

/** The pressure-duration curve: along the foot the share of the time, upwards the pressure that it was below. */
export function createDurationCurve(): { element: HTMLElement; update(view: DurationView): void } {
  const picture = createPicture();
  const figures = createFiguresBeside('These shares in figures');
  const element = el('div', {}, picture.element as unknown as HTMLElement, figures.element);
  return {
    element,
    update({ figure, description, width }) {
      const plot = plotOf(width, HEIGHT, figure.topBar);
      const { x, y } = plot;
      const { thresholdBar, belowShare } = figure;
      const parts = [...axes(plot, figure.ticksBar, FOOT)];
      const isBelow = thresholdBar !== undefined && belowShare !== undefined && belowShare > 0;
      if (isBelow)
        parts.push(
          svg('rect', {
            class: 'low',
            x: x(0),
            y: y(thresholdBar),
            width: Math.max(2, x(belowShare) - x(0)),
            height: HEIGHT - EDGES.bottom - y(thresholdBar),
          }),
        );
      parts.push(...thresholdMarks(plot, thresholdBar));
      const line = figure.points.map(({ share, bar: value }) => `${x(share)} ${y(value)}`).join('L');
      parts.push(svg('path', { class: 'standing', d: `M${line}` }));
      if (isBelow) {
        const right = belowShare > 0.5;
        parts.push(
          svg('circle', { class: 'point', cx: x(belowShare), cy: y(thresholdBar), r: 5 }),
          svg(
            'text',
            {
              class: 'value',
              x: x(belowShare) + (right ? -8 : 8),
              y: y(thresholdBar) + (right ? -10 : 17),
              'text-anchor': right ? 'end' : 'start',
            },
            percent(belowShare),
          ),
        );
      }
      picture.draw(plot, description, parts);
      figures.update(
        ['Share of the time', 'Standing pressure'],
        durationRows(figure).map(({ share, bar: value }) =>
          share === 0
            ? ['lowest', bar(value)]
            : share === 1
              ? ['highest', bar(value)]
              : [percent(share), `below ${bar(value)}`],
        ),
      );
    },
  };
}
