import type { ClockPoint, OverlayBand, OverlayDay, OverlayFigure } from '../../api/figures/overlay-figure.ts';
import { bar, dateInWords } from '../format.ts';
import { el, replace, svg } from '../parts/element.ts';
import { createFiguresBeside, legendOf } from './figures-beside.ts';
import { axes, createPicture, type Plot, plotOf, round, thresholdMarks } from './plot.ts';

const HEIGHT = 300;
const FOOT = [0, 6, 12, 18, 24].map((hour) => ({ share: hour / 24, text: String(hour).padStart(2, '0') }));
/** Half a mark's width. */
const MARK = 5;

export interface DayOverlayView {
  readonly figure: OverlayFigure;
  readonly description: string;
  readonly width: number;
}

/** All days over one another from 00 to 24 o'clock: weekdays solid, weekend dashed, what sags strong and marked. */
export function createDayOverlay(): { element: HTMLElement; update(view: DayOverlayView): void } {
  const picture = createPicture();
  const legend = el('div', {});
  const figures = createFiguresBeside('These days in figures');
  const element = el('div', {}, picture.element as unknown as HTMLElement, legend, figures.element);
  return {
    element,
    update({ figure, description, width }) {
      const plot = plotOf(width, HEIGHT, figure.topBar);
      picture.draw(plot, description, [
        ...axes(plot, figure.ticksBar, FOOT),
        ...figure.bands.flatMap((band) => bandParts(plot, band)),
        ...dayParts(plot, figure.days),
        ...thresholdMarks(plot, figure.thresholdBar),
        ...figure.days.flatMap((day) => day.marks.map((mark) => markPart(plot, mark))),
      ]);
      replace(legend, legendFor(figure));
      figures.element.hidden = figure.days.length === 0;
      figures.update(
        ['Day', 'Lowest', 'From', 'Sag'],
        [...figure.days].sort(newestFirst).map((day) => dayRow(day, figure)),
      );
    },
  };
}

/** One path a kind of day; what sags comes last and lies on top. */
function dayParts(plot: Plot, days: readonly OverlayDay[]): SVGElement[] {
  return (['pieces', 'sagPieces'] as const).flatMap((drawn) =>
    [false, true].flatMap((weekend) => {
      const alike = days.filter((day) => day.weekend === weekend).flatMap((day) => day[drawn]);
      const d = pathOf(plot, alike);
      const name = `day-line${weekend ? ' weekend' : ''}${drawn === 'sagPieces' ? ' sagging' : ''}`;
      return d ? [svg('path', { class: name, d })] : [];
    }),
  );
}

/** Weekdays as a band about their median, the weekend as lines over it. */
function bandParts(plot: Plot, band: OverlayBand): SVGElement[] {
  const kind = band.weekend ? ' weekend' : '';
  const middle = svg('path', { class: `day-line sagging${kind}`, d: pathOf(plot, band.middle) });
  if (band.weekend) return [svg('path', { class: `day-line${kind}`, d: pathOf(plot, band.low) }), middle];
  const areas = band.low.map((piece, index) => {
    const around = [...piece, ...[...(band.high[index] ?? [])].reverse()];
    return svg('path', { class: 'band', d: `${pathOf(plot, [around])}Z` });
  });
  return [...areas, middle];
}

function pathOf(plot: Plot, pieces: readonly (readonly ClockPoint[])[]): string {
  return pieces
    .filter((piece) => piece.length > 1)
    .map((piece) => `M${piece.map((point) => placeOf(plot, point).join(' ')).join('L')}`)
    .join('');
}

function placeOf({ x, y }: Plot, { hour, bar: value }: ClockPoint): [number, number] {
  return [x(hour / 24), y(value)];
}

/** A triangle that points up at a day's lowest point. */
function markPart(plot: Plot, mark: ClockPoint): SVGElement {
  const [x, y] = placeOf(plot, mark);
  const foot = round(y + 3 + 1.6 * MARK);
  return svg('path', { class: 'mark', d: `M${x} ${y + 3}L${round(x + MARK)} ${foot}L${round(x - MARK)} ${foot}Z` });
}

function legendFor({ days, bands }: OverlayFigure): HTMLElement {
  const line = (name: string) => svg('line', { class: name, x1: 0, x2: 28, y1: 8, y2: 8 });
  if (bands.length > 0)
    return legendOf([
      [
        'weekdays: median; pale, all but the tenth that is lowest and the tenth that is highest',
        svg('rect', { class: 'band', x: 0, y: 1, width: 28, height: 14 }),
        line('day-line sagging'),
      ],
      ['weekend: median; thin, the tenth that is lowest', line('day-line weekend sagging')],
    ]);
  return legendOf([
    ['weekday', line('day-line')],
    ...(days.some(({ weekend }) => weekend) ? [['weekend', line('day-line weekend')] as const] : []),
    ...(days.some(({ sagging }) => sagging)
      ? [
          [
            'strong, with a mark at its lowest: a morning or evening that sags',
            line('day-line sagging'),
            svg('path', { class: 'mark', d: 'M14 9L18 15L10 15Z' }),
          ] as const,
        ]
      : []),
  ]);
}

function newestFirst(a: OverlayDay, b: OverlayDay): number {
  return a.day < b.day ? 1 : -1;
}

function dayRow(day: OverlayDay, { slotMinutes }: OverlayFigure): string[] {
  const minute = day.lowest ? Math.round(day.lowest.hour * 60 - slotMinutes / 2) : 0;
  const clock = `${String(Math.floor(minute / 60)).padStart(2, '0')}:${String(minute % 60).padStart(2, '0')}`;
  return [
    dateInWords(day.day),
    day.lowest ? bar(day.lowest.bar) : '',
    day.lowest ? clock : '',
    day.sagging ? 'yes' : 'no',
  ];
}
