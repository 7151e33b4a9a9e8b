import { svg } from '../parts/element.ts';

/** Room around a plot, in CSS pixels: figures of pressure at its left, of time or share beneath. */
export const EDGES = { left: 40, right: 10, top: 26, bottom: 30 } as const;

export interface Plot {
  readonly width: number;
  readonly height: number;
  /** From a share of the width, 0 to 1. */
  x(share: number): number;
  y(bar: number): number;
}

export function plotOf(width: number, height: number, topBar: number): Plot {
  return {
    width,
    height,
    x: (share) => round(EDGES.left + share * (width - EDGES.left - EDGES.right)),
    y: (bar) =>
      round(
        height - EDGES.bottom - (Math.min(Math.max(bar, 0), topBar) / topBar) * (height - EDGES.top - EDGES.bottom),
      ),
  };
}

/** Rules at round pressures, labels along the foot (`share` of the width), and the foot itself. */
export function axes(
  { x, y, width, height }: Plot,
  ticksBar: readonly number[],
  foot: readonly { readonly share: number; readonly text: string }[],
): SVGElement[] {
  const bottom = height - EDGES.bottom;
  return [
    ...ticksBar.map((tick) => svg('line', { class: 'rule', x1: x(0), x2: x(1), y1: y(tick), y2: y(tick) })),
    ...ticksBar.map((tick) => svg('text', { x: EDGES.left - 6, y: y(tick) + 5, 'text-anchor': 'end' }, String(tick))),
    svg('text', { x: EDGES.left - 6, y: 14, 'text-anchor': 'end' }, 'bar'),
    ...foot.map(({ share }) => svg('line', { class: 'rule', x1: x(share), x2: x(share), y1: bottom, y2: bottom + 5 })),
    ...foot.map(({ share, text }) =>
      svg(
        'text',
        { x: share === 1 ? width - 1 : x(share), y: height - 8, 'text-anchor': share === 1 ? 'end' : 'middle' },
        text,
      ),
    ),
    svg('line', { class: 'foot', x1: x(0), x2: x(1), y1: bottom, y2: bottom }),
  ];
}

/** The threshold, dashed, with its value over its right end. */
export function thresholdMarks({ x, y }: Plot, thresholdBar: number | undefined): SVGElement[] {
  if (thresholdBar === undefined) return [];
  const place = y(thresholdBar);
  return [
    svg('line', { class: 'threshold', x1: x(0), x2: x(1), y1: place, y2: place }),
    svg(
      'text',
      { class: 'value', x: x(1), y: place + 17, 'text-anchor': 'end' },
      `threshold ${thresholdBar.toFixed(2)}\u00a0bar`,
    ),
  ];
}

export function round(value: number): number {
  return Math.round(value * 10) / 10;
}

/** A picture that is drawn anew at every update. */
export function createPicture(): {
  element: SVGSVGElement;
  draw(plot: Plot, description: string, parts: readonly SVGElement[]): void;
} {
  const element = svg('svg', { class: 'strip figure', role: 'img' });
  return {
    element,
    draw({ width, height }, description, parts) {
      element.setAttribute('viewBox', `0 0 ${width} ${height}`);
      element.setAttribute('width', String(width));
      element.setAttribute('height', String(height));
      element.setAttribute('aria-label', description);
      element.replaceChildren(...parts);
    },
  };
}
