import type { Pattern } from '../analysis/findings.ts';
import { durationFigure } from '../figures/duration-figure.ts';
import { overlayFigure } from '../figures/overlay-figure.ts';
import {
  belowSentence,
  durationCaption,
  lowestHoursSentence,
  overlayCaption,
  tooLittleWords,
  weekCaption,
} from '../figures/pattern-words.ts';
import { weekFigure } from '../figures/week-figure.ts';
import { durationDrawing } from './duration-drawing.ts';
import type { LetterBlock, LetterSection } from './letter-blocks.ts';
import type { LetterInput } from './letter-input.ts';
import { overlayDrawing } from './overlay-drawing.ts';
import { weekDrawing } from './week-drawing.ts';

/**
 * How the week goes, in three pictures and two sentences; what there is too little data for is said instead. None where
 * there is no standing pressure. As long for a year as for a week: all of it fits on one page.
 */
export function patternSection({ findings, timeZone }: LetterInput): LetterSection[] {
  const { pattern, standing } = findings;
  if (!pattern || !standing) return [];
  const little = tooLittleWords(pattern);
  const pictures: LetterBlock[] = [];
  if (pattern.enough.week) {
    const figure = weekFigure(pattern, standing.stepS);
    const caption = weekCaption(timeZone, figure);
    pictures.push({
      kind: 'chart',
      caption,
      drawing: weekDrawing(figure, `${caption} ${lowestHoursSentence(pattern)}`),
    });
  }
  if (pattern.enough.duration)
    pictures.push({
      kind: 'chart',
      caption: durationCaption(),
      drawing: durationDrawing(durationFigure(pattern), describe(pattern)),
    });
  if (pattern.enough.overlays) {
    const caption = overlayCaption(pattern, timeZone);
    pictures.push({ kind: 'chart', caption, drawing: overlayDrawing(overlayFigure(pattern), caption) });
  }
  const said = [
    ...(pattern.below && pattern.enough.duration ? [belowSentence(pattern.below)] : []),
    ...(pattern.enough.overlays ? [lowestHoursSentence(pattern)] : []),
    ...Object.values(little),
  ];
  return [{ heading: 'How the week goes', blocks: [{ kind: 'paragraph', text: said.join(' ') }, ...pictures] }];
}

function describe(pattern: Pattern): string {
  return pattern.below ? `Pressure-duration curve. ${belowSentence(pattern.below)}` : 'Pressure-duration curve.';
}
