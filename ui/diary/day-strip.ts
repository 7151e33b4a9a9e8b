import { svg } from '../parts/element.ts';
import type { DayStrip, StripSpan } from './strip-data.ts';

export interface DayStripView {
  readonly strip: DayStrip;
  readonly scaleBar: number;
  readonly thresholdBar: number | undefined;
  /** Width of every strip of the page in CSS pixels. */
  readonly width: number;
  /** What a screen reader says instead of the picture. */
  readonly description: string;
}

const HEIGHT = 76;
/** Room along the foot for draws, and along the head for pump starts. */
const FOOT = 9;
const HEAD = 6;

/** One day from 00 to 24 o'clock. Hatching and colours come from the style sheet and the patterns of index.html. */
export function createDayStrip(): { element: SVGSVGElement; update(view: DayStripView): void } {
  const element = svg('svg', { class: 'strip', role: 'img' });
  return {
    element,
    update({ strip, scaleBar, thresholdBar, width, description }) {
      const x = (hour: number) => round((hour / 24) * width);
      const y = (bar: number) => round(HEAD + (1 - Math.min(1, Math.max(0, bar / scaleBar))) * (HEIGHT - HEAD - FOOT));
      const box = (span: StripSpan, top: number, height: number, name: string, least = 1) =>
        svg('rect', {
          class: name,
          x: x(span.fromHour),
          y: top,
          width: Math.max(least, round(x(span.toHour) - x(span.fromHour))),
          height,
        });
      const path = (name: string, d: string) => (d ? svg('path', { class: name, d }) : undefined);
      element.setAttribute('viewBox', `0 0 ${width} ${HEIGHT}`);
      element.setAttribute('width', String(width));
      element.setAttribute('height', String(HEIGHT));
      element.setAttribute('aria-label', description);
      const parts = [
        ...strip.nights.map((span) => box(span, 0, HEIGHT, 'night')),
        ...[6, 12, 18].map((hour) => svg('line', { class: 'hour', x1: x(hour), x2: x(hour), y1: 0, y2: HEIGHT })),
        svg('line', { class: 'foot', x1: 0, x2: width, y1: HEIGHT - 0.5, y2: HEIGHT - 0.5 }),
        ...strip.low.map((span) => box(span, 0, HEIGHT - FOOT, span.certain ? 'low' : 'low possible')),
        path(
          'band',
          strip.band
            .map((piece) => {
              const above = piece.map((at) => `${x(at.hour)} ${y(at.max)}`);
              const below = piece.map((at) => `${x(at.hour)} ${y(at.min)}`).reverse();
              return `M${above.concat(below).join('L')}Z`;
            })
            .join(''),
        ),
        thresholdBar !== undefined &&
          svg('line', { class: 'threshold', x1: 0, x2: width, y1: y(thresholdBar), y2: y(thresholdBar) }),
        path(
          'standing',
          strip.line.map((piece) => `M${piece.map((at) => `${x(at.hour)} ${y(at.bar)}`).join('L')}`).join(''),
        ),
        ...strip.draws.map((span) => box(span, HEIGHT - FOOT + 2, FOOT - 3, 'draw')),
        ...strip.starts.map((span) => box(span, 0, HEAD - 1, 'start')),
      ];
      element.replaceChildren(...parts.filter((part) => part !== undefined && part !== false));
    },
  };
}

function round(value: number): number {
  return Math.round(value * 10) / 10;
}
