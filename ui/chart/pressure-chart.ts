import uPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import { el } from '../parts/element.ts';
import type { SiteTime } from '../site-time.ts';
import type { Span } from '../view-state.ts';
import { axisSplits } from './axis-splits.ts';
import type { ChartColumns } from './chart-data.ts';
import { followGestures } from './chart-gestures.ts';
import type { ChartMarks } from './chart-marks.ts';
import { type Frame, type Palette, paintAbove, paintNights, paintPeriods } from './chart-paint.ts';
import { readPalette } from './palette.ts';

/*
 * The one file that knows the charting library. Pressure on top, flow and pump below it on the same time axis.
 * Everything drawn is computed elsewhere; times on the axis are ours, because the library's own zone handling goes
 * wrong while the viewer's zone has daylight saving.
 */

export interface ChartView {
  readonly span: Span;
  readonly time: SiteTime;
  readonly pressure: ChartColumns;
  readonly pressureRangeBar: readonly [number, number];
  readonly flow: ChartColumns | undefined;
  readonly pump: ChartColumns | undefined;
  /** Single samples, not buckets: the band is then as thin as a line and drawn as one. */
  readonly raw: boolean;
  readonly marks: ChartMarks;
}

export interface ChartIntents {
  /** The reader moved to another span; `settled` once the hand rests. */
  onSpan(span: Span, settled: boolean): void;
  /** The time under the pointer, or undefined when it leaves. */
  onPoint(atMs: number | undefined): void;
}

export interface PressureChart {
  readonly element: HTMLElement;
  update(view: ChartView): void;
  destroy(): void;
}

type Kind = 'pressure' | 'flow' | 'pump';

/** Width of the value axis, the same on all three so that their times stand under one another. */
const AXIS_WIDTH = 46;
/** More than half of the widest time label ("06:05:00"), so that one at the very edge is drawn whole. */
const RIGHT_MARGIN = 32;
const SETTLE_MS = 250;
const PIXELS_A_SPLIT = 72;

export function createPressureChart(intents: ChartIntents): PressureChart {
  const element = el('div', { class: 'chart' });
  const places: Record<Kind, HTMLElement> = {
    pressure: el('div', { class: 'plot' }),
    flow: el('div', { class: 'plot', hidden: true }),
    pump: el('div', { class: 'plot', hidden: true }),
  };
  element.append(places.pressure, places.flow, places.pump);
  const plots: Partial<Record<Kind, uPlot>> = {};
  let view: ChartView | undefined;
  let palette: Palette = readPalette(element);
  let settle: ReturnType<typeof setTimeout> | undefined;
  let frameAsked = false;
  let moved: Span | undefined;

  function move(span: Span): void {
    moved = span;
    if (!frameAsked) {
      frameAsked = true;
      requestAnimationFrame(() => {
        frameAsked = false;
        if (moved) showSpan(moved);
      });
    }
    intents.onSpan(span, false);
    clearTimeout(settle);
    settle = setTimeout(() => intents.onSpan(span, true), SETTLE_MS);
  }

  function showSpan(span: Span): void {
    for (const plot of Object.values(plots)) plot.setScale('x', { min: span.fromMs, max: span.toMs });
  }

  const stopGestures = followGestures(element, {
    span: () => moved ?? view?.span,
    /** Left edge and width of the picture inside the axes, in page pixels. */
    picture: () => plots.pressure?.over.getBoundingClientRect(),
    move,
  });

  function frameOf(plot: uPlot): Frame {
    const { left, top, width, height } = plot.bbox;
    return {
      context: plot.ctx,
      left,
      top,
      width,
      height,
      ratio: uPlot.pxRatio,
      xOf: (atMs) => plot.valToPos(atMs, 'x', true),
      yOf: (value) => plot.valToPos(value, 'y', true),
    };
  }

  const readings = () => (view?.raw ? palette.edge : palette.band);

  function make(kind: Kind, columns: ChartColumns): uPlot {
    const pressure = kind === 'pressure';
    const axisFont = () => `12px ${palette.font}`;
    const options: uPlot.Options = {
      width: Math.max(200, element.clientWidth),
      height: heightOf(kind),
      padding: [10, RIGHT_MARGIN, pressure ? 0 : 8, 0],
      legend: { show: false },
      cursor: {
        drag: { x: true, y: false, setScale: false },
        points: { show: false },
        y: false,
      },
      scales: {
        x: { time: false, auto: false },
        y: { range: (_plot, min, max) => valueRange(kind, min, max) },
      },
      axes: [
        {
          scale: 'x',
          size: pressure ? 40 : 4,
          font: axisFont(),
          stroke: () => palette.ink,
          grid: { stroke: () => palette.hair, width: 1 },
          ticks: { show: pressure, stroke: () => palette.hair, size: 5 },
          splits: (plot) => splitsOf(plot).map((split) => split.atMs),
          values: (plot) => (pressure ? splitsOf(plot).map((split) => split.label) : splitsOf(plot).map(() => '')),
        },
        {
          scale: 'y',
          size: AXIS_WIDTH,
          font: axisFont(),
          stroke: () => palette.ink,
          grid: { stroke: () => palette.hair, width: 1 },
          ticks: { show: false },
          space: pressure ? 40 : 26,
          values: (_plot, splits) => splits.map((value) => valueLabel(kind, value)),
        },
      ],
      series: [
        {},
        bandEdge(readings),
        bandEdge(readings),
        { stroke: () => palette.water, width: kind === 'pressure' ? 2 : 1.5, points: { show: false }, ...steps(kind) },
        { width: 0, points: { show: false } },
        { width: 0, points: { show: false } },
      ],
      bands: [
        { series: [2, 1], fill: () => palette.band, dir: -1 },
        { series: [5, 4], fill: () => palette.soft, dir: -1 },
      ],
      hooks: {
        drawClear: [(plot) => view && pressure && paintNights(frameOf(plot), view.marks, palette)],
        drawAxes: [(plot) => view && pressure && paintPeriods(frameOf(plot), view.marks, palette)],
        draw: [(plot) => view && pressure && paintAbove(frameOf(plot), view.marks, palette)],
        setSelect: [(plot) => chooseSelection(plot)],
        setCursor: [(plot) => intents.onPoint(pointUnder(plot))],
      },
    };
    return new uPlot(options, aligned(columns), places[kind]);
  }

  function steps(kind: Kind): Partial<uPlot.Series> {
    if (kind !== 'pump') return {};
    const stepped = uPlot.paths.stepped?.({ align: 1 });
    return { fill: () => palette.soft, ...(stepped ? { paths: stepped } : {}) };
  }

  function splitsOf(plot: uPlot) {
    if (!view) return [];
    const { min, max } = plot.scales['x']!;
    const pixels = plot.bbox.width / uPlot.pxRatio;
    return axisSplits(
      min ?? view.span.fromMs,
      max ?? view.span.toMs,
      Math.max(2, Math.floor(pixels / PIXELS_A_SPLIT)),
      view.time,
    );
  }

  function valueRange(kind: Kind, _min: number | null, max: number | null): uPlot.Range.MinMax {
    if (kind === 'pressure' && view) return [view.pressureRangeBar[0], view.pressureRangeBar[1]];
    if (kind === 'pump') return [0, 1.05];
    return [0, Math.max(5, (max ?? 0) * 1.1)];
  }

  function chooseSelection(plot: uPlot): void {
    const { left, width } = plot.select;
    if (width < 4) return;
    const fromMs = Math.round(plot.posToVal(left, 'x'));
    const toMs = Math.round(plot.posToVal(left + width, 'x'));
    plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    if (toMs - fromMs >= 1000) move({ fromMs, toMs });
  }

  function pointUnder(plot: uPlot): number | undefined {
    const { left } = plot.cursor;
    return left === undefined || left < 0 ? undefined : plot.posToVal(left, 'x');
  }

  function showKind(kind: Kind, columns: ChartColumns | undefined): void {
    places[kind].hidden = columns === undefined;
    if (!columns) {
      plots[kind]?.destroy();
      delete plots[kind];
      return;
    }
    const plot = plots[kind];
    if (!plot) plots[kind] = make(kind, columns);
    else plot.setData(aligned(columns), false);
  }

  const watchSize = new ResizeObserver(() => {
    for (const [kind, plot] of Object.entries(plots) as [Kind, uPlot][]) {
      const width = Math.max(200, element.clientWidth);
      if (plot.width !== width || plot.height !== heightOf(kind)) plot.setSize({ width, height: heightOf(kind) });
    }
  });
  watchSize.observe(element);
  const dark = matchMedia('(prefers-color-scheme: dark)');
  const recolour = () => {
    palette = readPalette(element);
    for (const plot of Object.values(plots)) plot.redraw(true, true);
  };
  dark.addEventListener('change', recolour);

  return {
    element,
    update(next) {
      view = next;
      moved = undefined;
      palette = readPalette(element);
      showKind('pressure', next.pressure);
      showKind('flow', next.flow);
      showKind('pump', next.pump);
      for (const plot of Object.values(plots))
        plot.batch(() => {
          plot.setScale('x', { min: next.span.fromMs, max: next.span.toMs });
        });
    },
    destroy() {
      clearTimeout(settle);
      watchSize.disconnect();
      dark.removeEventListener('change', recolour);
      stopGestures();
      for (const plot of Object.values(plots)) plot.destroy();
    },
  };
}

function heightOf(kind: Kind): number {
  if (kind !== 'pressure') return 96;
  return Math.round(Math.min(460, Math.max(260, innerHeight * 0.5)));
}

function valueLabel(kind: Kind, value: number): string {
  if (kind === 'pump') return value === 0 ? 'off' : value === 1 ? 'on' : '';
  return kind === 'flow' ? String(Math.round(value)) : String(Math.round(value * 100) / 100);
}

function bandEdge(stroke: () => string): uPlot.Series {
  return { width: 1, stroke, points: { show: false } };
}

function aligned(columns: ChartColumns): uPlot.AlignedData {
  const { timeMs, min, max, line, lower, upper } = columns;
  return [timeMs, min, max, line, lower, upper] as unknown as uPlot.AlignedData;
}
