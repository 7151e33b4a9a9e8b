import type { FindingsDocument } from '../../api/analysis/findings.ts';
import type { SeriesResponse } from '../../api/contract/payloads.ts';
import { axisSplits, nightSpans } from '../chart/axis-splits.ts';
import { type Column, gapMs, keepExtremes, withGaps } from '../chart/chart-data.ts';
import { NIGHT } from '../chart/chart-marks.ts';
import { spanInWords } from '../format.ts';
import { el, svg } from '../parts/element.ts';
import type { SiteTime } from '../site-time.ts';
import type { Span } from '../view-state.ts';

export interface SpanStripView {
  readonly log: Span;
  readonly findings: FindingsDocument;
  /** The log's readings, where there is no standing pressure to draw. */
  readonly series: SeriesResponse | undefined;
  readonly scaleBar: number;
  readonly time: SiteTime;
  readonly width: number;
}

const HEIGHT = 64;
const LABELS = 18;
/** A finger that moves less than this has touched, not dragged: it opens the day under it. */
const DRAG_PX = 8;
const NIGHTS_UP_TO_MS = 40 * 86_400_000;

/** The whole log as one thin strip; dragging over it chooses a span, touching it a day. */
export function createSpanStrip(onChoice: (span: Span) => void): {
  element: HTMLElement;
  update(view: SpanStripView): void;
} {
  const picture = svg('svg', { class: 'strip span-strip', role: 'img' });
  const chosen = svg('rect', { class: 'chosen', y: 0, height: HEIGHT, width: 0 });
  const status = el('p', { class: 'quiet', 'aria-live': 'off' });
  const element = el('div', { class: 'span' }, picture as unknown as HTMLElement, status);
  let view: SpanStripView | undefined;
  let from: number | undefined;

  const timeAt = (clientX: number): number => {
    const box = picture.getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (clientX - box.left) / box.width));
    return view!.log.fromMs + share * (view!.log.toMs - view!.log.fromMs);
  };
  const selection = (a: number, b: number): Span => ({ fromMs: timeAt(Math.min(a, b)), toMs: timeAt(Math.max(a, b)) });

  picture.addEventListener('pointerdown', (event) => {
    if (!view) return;
    from = event.clientX;
    picture.setPointerCapture(event.pointerId);
  });
  picture.addEventListener('pointermove', (event) => {
    if (from === undefined || !view) return;
    const box = picture.getBoundingClientRect();
    chosen.setAttribute('x', String(Math.max(0, Math.min(from, event.clientX) - box.left)));
    chosen.setAttribute('width', String(Math.abs(event.clientX - from)));
    const { fromMs, toMs } = selection(from, event.clientX);
    status.textContent = spanInWords(fromMs, toMs, view.time);
  });
  const cancel = () => {
    from = undefined;
    chosen.setAttribute('width', '0');
  };
  picture.addEventListener('pointercancel', cancel);
  picture.addEventListener('pointerup', (event) => {
    if (from === undefined || !view) return;
    const dragged = Math.abs(event.clientX - from) >= DRAG_PX;
    const day = view.time.dayOf(timeAt(event.clientX));
    const { fromMs, toMs } = selection(from, event.clientX);
    cancel();
    onChoice(
      dragged
        ? { fromMs: Math.round(fromMs / 60_000) * 60_000, toMs: Math.round(toMs / 60_000) * 60_000 }
        : { fromMs: day.startMs, toMs: day.endMs },
    );
  });

  return {
    element,
    update(next) {
      view = next;
      const { log, findings, scaleBar, time, width } = next;
      const x = (atMs: number) =>
        Math.round(Math.min(width, Math.max(0, ((atMs - log.fromMs) / (log.toMs - log.fromMs)) * width)) * 10) / 10;
      const foot = HEIGHT - LABELS;
      const y = (bar: number) =>
        Math.round((4 + (1 - Math.min(1, Math.max(0, bar / scaleBar))) * (foot - 6)) * 10) / 10;
      const nights = log.toMs - log.fromMs > NIGHTS_UP_TO_MS ? [] : nightSpans(log.fromMs, log.toMs, NIGHT, time);
      const box = (name: string, fromMs: number, toMs: number) =>
        svg('rect', { class: name, x: x(fromMs), y: 0, width: Math.max(1, x(toMs) - x(fromMs)), height: foot });
      const splits = axisSplits(log.fromMs, log.toMs, Math.max(2, Math.floor(width / 64)), time);
      picture.setAttribute('viewBox', `0 0 ${width} ${HEIGHT}`);
      picture.setAttribute('width', String(width));
      picture.setAttribute('height', String(HEIGHT));
      picture.setAttribute(
        'aria-label',
        `The whole log, ${spanInWords(log.fromMs, log.toMs, time)}. Each day below says what is in it.`,
      );
      picture.replaceChildren(
        ...nights.map((night) => box('night', night.fromMs, night.toMs)),
        ...findings.lowSupply.map((period) =>
          box(
            period.certainty === 'certain' ? 'low' : 'low possible',
            Date.parse(period.start),
            Date.parse(period.end),
          ),
        ),
        ...linePath(next, x, y),
        svg('line', { class: 'foot', x1: 0, x2: width, y1: foot, y2: foot }),
        ...splits.flatMap((split) => {
          const at = x(split.atMs);
          const label = split.label.split('\n').at(-1)!;
          const room = at > 18 && at < width - 18;
          return [
            svg('line', { class: 'hour', x1: at, x2: at, y1: 0, y2: foot + 4 }),
            ...(room ? [svg('text', { x: at, y: HEIGHT - 3, 'text-anchor': 'middle' }, label)] : []),
          ];
        }),
        chosen,
      );
      if (from === undefined) status.textContent = 'Drag over the strip to open a span as a chart, or touch a day.';
    },
  };
}

function linePath(
  { findings, series, width }: SpanStripView,
  x: (atMs: number) => number,
  y: (bar: number) => number,
): SVGPathElement[] {
  const whole = wholeLine(findings, series);
  if (!whole) return [];
  const { column } = keepExtremes(whole, Math.round(width));
  let d = '';
  let pen = false;
  for (const [index, value] of column.value.entries()) {
    if (value !== null) d += `${pen ? 'L' : 'M'}${x(column.timeMs[index]!)} ${y(value)}`;
    pen = value !== null;
  }
  return d ? [svg('path', { class: 'standing', d })] : [];
}

/** Standing pressure over the whole log, or the mean readings where it doesn't apply. */
function wholeLine(findings: FindingsDocument, series: SeriesResponse | undefined): Column | undefined {
  const { standing } = findings;
  if (!standing) return series && withGaps(series.time, series.mean, gapMs(series.stepMs, findings.series.intervalS));
  const startMs = Date.parse(standing.start);
  const timeMs = standing.bar.map((_, index) => startMs + (index + 0.5) * standing.stepS * 1000);
  return { timeMs, value: standing.bar };
}
