import type { FindingsDocument, Pattern } from '../../api/analysis/findings.ts';
import { durationFigure } from '../../api/figures/duration-figure.ts';
import { overlayFigure } from '../../api/figures/overlay-figure.ts';
import {
  belowSentence,
  durationCaption,
  lowestHoursSentence,
  overlayCaption,
  tooLittleWords,
  weekCaption,
} from '../../api/figures/pattern-words.ts';
import { weekFigure } from '../../api/figures/week-figure.ts';
import { el } from '../parts/element.ts';
import { createDayOverlay } from './day-overlay.ts';
import { createDurationCurve } from './duration-curve.ts';
import { createWeekTable } from './week-table.ts';

export interface PatternView {
  readonly findings: FindingsDocument;
  /** Of the charts, in CSS pixels. */
  readonly width: number;
}

/** How the week goes: a table, a curve and the days over one another; what is too short for one is said in a sentence. */
export function createPatternSection(): { element: HTMLElement; update(view: PatternView): void; read(): void } {
  const heading = el('h2', { id: 'week', tabindex: -1 }, 'How the week goes');
  const said = el('p', {});
  const little = el('p', { class: 'quiet' });
  const week = createWeekTable();
  const weekPart = part('Hour by hour', week.element);
  const duration = createDurationCurve();
  const durationPart = part('For how long below a pressure', duration.element);
  const overlay = createDayOverlay();
  const overlayPart = part('The days over one another', overlay.element);
  const element = el(
    'section',
    { 'aria-labelledby': 'week' },
    heading,
    said,
    weekPart.element,
    durationPart.element,
    overlayPart.element,
    little,
  );
  let drawn: { pattern: Pattern; width: number } | undefined;
  let figures: ReturnType<typeof figuresOf> | undefined;

  return {
    element,
    update({ findings, width }) {
      const { pattern, series, standing } = findings;
      element.hidden = !pattern || !standing;
      if (!pattern || !standing || (drawn?.pattern === pattern && drawn.width === width)) return;
      if (drawn?.pattern !== pattern) figures = figuresOf(pattern, standing.stepS);
      drawn = { pattern, width };
      const { enough } = pattern;
      const belowWords = pattern.below && enough.duration ? belowSentence(pattern.below) : '';
      say(said, [belowWords, enough.overlays ? lowestHoursSentence(pattern) : '']);
      say(little, Object.values(tooLittleWords(pattern)));
      weekPart.element.hidden = !enough.week;
      if (enough.week && figures)
        week.update({ figure: figures.week, caption: weekCaption(series.timeZone, figures.week), width });
      durationPart.element.hidden = !enough.duration;
      if (enough.duration && figures) {
        durationPart.caption.textContent = durationCaption();
        duration.update({ figure: figures.duration, description: `Pressure-duration curve. ${belowWords}`, width });
      }
      overlayPart.element.hidden = !enough.overlays;
      if (enough.overlays && figures) {
        const caption = overlayCaption(pattern, series.timeZone);
        overlayPart.caption.textContent = caption;
        overlay.update({ figure: figures.overlay, description: caption, width });
      }
    },
    /** Goes there, as a link within the page would. */
    read() {
      heading.scrollIntoView();
      heading.focus({ preventScroll: true });
    },
  };
}

function figuresOf(pattern: Pattern, stepS: number) {
  return {
    week: weekFigure(pattern, stepS),
    duration: durationFigure(pattern),
    overlay: overlayFigure(pattern),
  };
}

function part(name: string, content: HTMLElement): { element: HTMLElement; caption: HTMLElement } {
  const caption = el('p', { class: 'quiet' });
  return { element: el('div', {}, el('h3', {}, name), caption, content), caption };
}

/** Leaves out what there is nothing to say of. */
function say(paragraph: HTMLElement, words: readonly string[]): void {
  const text = words.filter(Boolean).join(' ');
  if (paragraph.textContent !== text) paragraph.textContent = text;
  paragraph.hidden = text === '';
}
