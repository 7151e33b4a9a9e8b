import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { el, replace, svg } from '../parts/element.ts';

export interface LegendView {
  readonly findings: FindingsDocument | undefined;
  readonly hasFlow: boolean;
  readonly hasPump: boolean;
}

/** What each mark means, with the mark beside it. */
export function createChartLegend(): { element: HTMLElement; update(view: LegendView): void } {
  const element = el('ul', { class: 'legend' });
  return {
    element,
    update({ findings, hasFlow, hasPump }) {
      const standing = findings === undefined || findings.standing !== undefined;
      const entries: [string, SVGElement][] = [
        [
          standing ? 'standing pressure, with its uncertainty as a soft edge (bar)' : 'mean reading (bar)',
          svg('line', { class: 'standing', x1: 0, x2: 28, y1: 8, y2: 8 }),
        ],
        ['readings, lowest to highest', svg('rect', { class: 'band', x: 0, y: 3, width: 28, height: 10 })],
      ];
      if (findings && findings.draws.length > 0)
        entries.push(['own draws, along the foot', svg('path', { class: 'ticks', d: 'M4 8v8M10 8v8M20 8v8M22 8v8' })]);
      if (findings && findings.pumpStarts.length > 0)
        entries.push(['pump runs, along the head', svg('path', { class: 'ticks', d: 'M4 0v8M4 1h6M18 0v8M18 1h6' })]);
      if (findings && findings.lowSupply.length > 0) {
        entries.push(['low supply, certain', svg('rect', { class: 'low', x: 0, y: 1, width: 28, height: 14 })]);
        entries.push([
          'low supply, possible',
          svg('rect', { class: 'low possible', x: 0, y: 1, width: 28, height: 14 }),
        ]);
      }
      if (findings && findings.series.position !== 'pump_outlet')
        entries.push(['threshold', svg('line', { class: 'threshold', x1: 0, x2: 28, y1: 8, y2: 8 })]);
      if (hasFlow) entries.push(['flow below, l/min', svg('line', { class: 'standing', x1: 0, x2: 28, y1: 8, y2: 8 })]);
      if (hasPump)
        entries.push(['pump below, on or off', svg('line', { class: 'standing', x1: 0, x2: 28, y1: 8, y2: 8 })]);
      replace(
        element,
        ...entries.map(([words, mark]) =>
          el(
            'li',
            {},
            svg(
              'svg',
              { class: 'strip', width: 28, height: 16, viewBox: '0 0 28 16', 'aria-hidden': 'true' },
              mark,
            ) as unknown as HTMLElement,
            words,
          ),
        ),
      );
    },
  };
}
