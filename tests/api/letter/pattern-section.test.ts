import { describe, expect, it } from 'vitest';
import type { Drawing, Shape } from '../../../api/letter/drawing.ts';
import { letterContent } from '../../../api/letter/letter-content.ts';
import type { LetterInput } from '../../../api/letter/letter-input.ts';
import { patternSection } from '../../../api/letter/pattern-section.ts';
import { renderHtml } from '../../../api/letter/render-html.ts';
import { renderPdf } from '../../../api/letter/render-pdf.ts';
import { onWeekdays, patternOf, sagging } from '../figures/a-pattern.ts';
import { sampleLetter } from './sample-letter.ts';

/** A4 within its margins and above its foot, in points. */
const PAGE = { width: 595.28 - 2 * 48, height: 841.89 - 2 * 48 - 26 };
/** A heading, sentences and captions of three lines each, at most. */
const WORDS_HEIGHT = 200;

function letterOf(days: number, barAt = sagging): LetterInput {
  const input = sampleLetter(2);
  return { ...input, findings: { ...input.findings, pattern: patternOf(days, barAt, { sagging: onWeekdays }) } };
}
const drawings = (input: LetterInput): Drawing[] =>
  patternSection(input).flatMap(({ blocks }) =>
    blocks.flatMap((block) => (block.kind === 'chart' ? [block.drawing] : [])),
  );
const textsOf = (drawing: Drawing) => drawing.shapes.flatMap((shape) => (shape.kind === 'text' ? [shape.text] : []));
const places = (shape: Shape): readonly (readonly [number, number])[] =>
  shape.kind === 'line' || shape.kind === 'area'
    ? shape.points
    : shape.kind === 'text'
      ? [[shape.x, shape.y]]
      : [
          [shape.x, shape.y],
          [shape.x + shape.width, shape.y + shape.height],
        ];

describe('how the week goes, in the letter', () => {
  it('shows table, curve and days, each with its caption, and says it in two sentences', () => {
    const [section] = patternSection(letterOf(14));
    expect(section!.blocks.map(({ kind }) => kind)).toEqual(['paragraph', 'chart', 'chart', 'chart']);
    const html = renderHtml(letterContent(letterOf(14)));
    for (const words of [
      'How the week goes',
      'for 6.0\u00a0% of the time',
      'from 07 to 09 o’clock',
      '14 days over one another',
    ])
      expect(html).toContain(words);
  });

  it('writes every median of the table, and underlines what is below the threshold', () => {
    const [week] = drawings(letterOf(14));
    expect(textsOf(week!).filter((text) => /^\d\.\d\d$/.test(text))).toHaveLength(168);
    const underlines = week!.shapes.filter((shape) => shape.kind === 'line' && shape.width === 1.2);
    expect(underlines).toHaveLength(10);
  });

  it('draws weekdays solid and the weekend dashed, with a mark for each sag', () => {
    const days = drawings(letterOf(14))[2]!;
    const lines = days.shapes.filter(
      (shape) => shape.kind === 'line' && shape.ink === 'faint' && shape.points.length === 96,
    );
    expect(lines.map((line) => line.kind === 'line' && line.dash !== undefined).filter(Boolean)).toHaveLength(4);
    expect(lines).toHaveLength(14);
    expect(days.shapes.filter((shape) => shape.kind === 'area' && shape.ink === 'earth')).toHaveLength(10);
  });

  it.each([5, 14, 62, 400])('of %i days fits on a page, and nothing of it lies beside the paper', (days) => {
    const pictures = drawings(letterOf(days));
    expect(pictures).toHaveLength(3);
    const scaled = pictures.map(({ width, height }) => (height * PAGE.width) / width);
    expect(scaled.reduce((sum, height) => sum + height, 0)).toBeLessThan(PAGE.height - WORDS_HEIGHT);
    for (const { width, height, shapes } of pictures)
      for (const [x, y] of shapes.flatMap(places)) {
        expect(x >= 0 && x <= width, `${x} across`).toBe(true);
        expect(y >= 0 && y <= height, `${y} down`).toBe(true);
      }
    expect(pictures.reduce((sum, { shapes }) => sum + shapes.length, 0)).toBeLessThan(1000);
  });

  it('speaks of a hatch where there is one, and of no other', () => {
    // 20 of 336 hours are wide enough on paper; a minute a day isn't.
    for (const [barAt, hatched] of [
      [sagging, true],
      [(minute: number) => (minute === 0 ? 0.5 : 1.5), false],
    ] as const) {
      const curve = drawings(letterOf(14, barAt))[1]!;
      expect(curve.shapes.some(({ kind }) => kind === 'hatch')).toBe(hatched);
      expect(textsOf(curve).some((text) => text.includes('hatched'))).toBe(hatched);
      expect(textsOf(curve).join(' ')).toContain('of the time above the curve');
    }
  });

  it('says instead what there is too little for', () => {
    const [section] = patternSection(letterOf(2));
    expect(section!.blocks.map(({ kind }) => kind)).toEqual(['paragraph', 'chart', 'chart']);
    expect(JSON.stringify(section)).toContain('The table of the week needs five days');
    expect(drawings(letterOf(0.25))).toEqual([]);
  });

  it('is not there where there is no standing pressure', () => {
    const { standing: _, ...findings } = letterOf(7).findings;
    expect(patternSection({ ...letterOf(7), findings })).toEqual([]);
    expect(patternSection(sampleLetter(2))).toEqual([]);
  });

  it('becomes a PDF', async () => {
    const bytes = await renderPdf(letterContent(letterOf(14)), 0);
    expect(new TextDecoder('latin1').decode(bytes.subarray(0, 5))).toBe('%PDF-');
  });
});
