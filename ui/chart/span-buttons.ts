import { el, replace } from '../parts/element.ts';
import type { SiteTime } from '../site-time.ts';
import { panSpan, type Span, type SpanChoice, zoomSpan } from '../view-state.ts';

export interface SpanButtonsView {
  readonly span: Span;
  readonly choice: SpanChoice | undefined;
  readonly log: Span | undefined;
  readonly time: SiteTime;
}

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const PRESETS: readonly (readonly [string, number])[] = [
  ['Year', 366 * 24 * HOUR_MS],
  ['Month', 31 * 24 * HOUR_MS],
  ['Week', 7 * 24 * HOUR_MS],
  ['6 hours', 6 * HOUR_MS],
  ['Hour', HOUR_MS],
  ['Minute', MINUTE_MS],
];

/** Plain buttons for everything that a drag, a wheel or two fingers can do. */
export function createSpanButtons(onChoice: (choice: SpanChoice) => void): {
  element: HTMLElement;
  update(view: SpanButtonsView): void;
} {
  let view: SpanButtonsView | undefined;
  const button = (label: string, choose: (view: SpanButtonsView) => SpanChoice, name = label) =>
    el('button', { type: 'button', 'aria-label': name, click: () => view && onChoice(choose(view)) }, label);
  const steps = el(
    'div',
    { class: 'buttons', role: 'group', 'aria-label': 'Move and zoom' },
    button('Earlier', ({ span }) => panSpan(span, -0.5)),
    button('Later', ({ span }) => panSpan(span, 0.5)),
    button('+', ({ span }) => zoomSpan(span, 0.5), 'Zoom in'),
    button('\u2212', ({ span }) => zoomSpan(span, 2), 'Zoom out'),
  );
  const presets = el('div', { class: 'buttons', role: 'group', 'aria-label': 'Spans' });
  return {
    element: el('div', {}, steps, presets),
    update(next) {
      const fresh = view === undefined;
      view = next;
      if (!fresh) return;
      const logMs = next.log ? next.log.toMs - next.log.fromMs : 0;
      replace(
        presets,
        button('Whole log', ({ log, span }) => log ?? span),
        // Spans well beyond what is logged would only show emptiness.
        ...PRESETS.filter(([, ms]) => ms < logMs || ms <= HOUR_MS).map(([label, ms]) =>
          button(label, (now) => around(now, ms)),
        ),
        button('Day', ({ span, time }) => {
          const day = time.dayOf((span.fromMs + span.toMs) / 2);
          return { fromMs: day.startMs, toMs: day.endMs };
        }),
        button('Live', () => ({ lastMs: 10 * MINUTE_MS }), 'Live: the last ten minutes, moving along'),
      );
    },
  };
}

/** A span of that length about the middle, kept within the log where it fits. */
function around({ span, log }: SpanButtonsView, ms: number): Span {
  const middle = (span.fromMs + span.toMs) / 2;
  let fromMs = Math.round(middle - ms / 2);
  if (log) fromMs = Math.max(log.fromMs, Math.min(fromMs, log.toMs - ms));
  return { fromMs, toMs: fromMs + ms };
}
