import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { pressureScale } from '../../../api/figures/pressure-scale.ts';
import { drawingToSvg } from '../../../api/letter/chart-svg.ts';
import { dayStrips } from '../../../api/letter/day-strips.ts';
import { hatchStrokes } from '../../../api/letter/drawing.ts';
import { letterContent } from '../../../api/letter/letter-content.ts';
import type { LetterInput } from '../../../api/letter/letter-input.ts';
import { reduceLine } from '../../../api/letter/reduce-line.ts';
import { renderHtml } from '../../../api/letter/render-html.ts';
import { renderPdf } from '../../../api/letter/render-pdf.ts';
import { spanChart } from '../../../api/letter/span-chart.ts';
import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { sampleLetter } from './sample-letter.ts';

function texts(days = 14): string {
  return renderHtml(letterContent(sampleLetter(days)))
    .replace(/<style>.*?<\/style>/s, '')
    .replace(/<[^>]+>/g, '\n');
}

describe('what the letter says', () => {
  it('names place, instrument, completeness, findings with local times, method and cautions', () => {
    const text = texts();
    for (const words of [
      '12 Sample Row',
      'Europe/London',
      'on the incoming main',
      '0.5 V is 0 bar',
      'Test gauge at the kitchen tap.',
      '99.8 %',
      'Mon 19 Oct 07:05 to 08:40',
      '1 h 35 min',
      'certain',
      'two occasions of an hour',
      'JCGM 100:2008',
      'backflow',
      'scalding',
      'This house, its street and its readings are invented.',
    ])
      expect(text).toContain(words);
  });

  it('tells times by the clock at the house on both sides of the clock change', () => {
    // Europe/London leaves summer time on 2026-10-25 (IANA data): the same 07:05 is 06:05 UTC before and 07:05 UTC after.
    const rows = texts().match(/(Fri 23|Mon 26) Oct \d\d:\d\d/g);
    expect(new Set(rows)).toEqual(new Set(['Fri 23 Oct 07:05', 'Mon 26 Oct 07:05']));
  });

  it('refers the pressure to the stop tap by the height of the transducer', () => {
    // 0.6 m of water is 0.0588 bar (conventional metre of water, 9806.65 Pa).
    expect(texts()).toContain('0.6 m above the boundary stop tap, where the pressure is 0.059 bar higher');
  });

  it('lets no name of a house become markup', () => {
    const html = renderHtml(letterContent(sampleLetter(2, '<script>alert(1)</script> & "Row"')));
    expect(html).not.toContain('<script');
    expect(html).toContain('&lt;script&gt;');
  });

  it('loads nothing from elsewhere', () => {
    expect(renderHtml(letterContent(sampleLetter(3)))).not.toMatch(/(src|href)=|url\(|@import/);
  });
});

describe('a pump and its fitting', () => {
  /** Twenty starved runs on two days, a spell of cycling an hour on the second, and two outlets read on both sides. */
  function pumpLetter(): LetterInput {
    const input = sampleLetter(2);
    const { standing: _, ...findings } = input.findings;
    const at = (minute: number) => formatRfc3339(input.fromMs + minute * 60_000);
    return {
      ...input,
      position: 'pump_outlet',
      envelope: {
        stepMs: 3_600_000,
        startMs: Float64Array.from({ length: 48 }, (_each, hour) => input.fromMs + hour * 3_600_000),
        min: new Float64Array(48).fill(2),
        max: new Float64Array(48).fill(3.2),
        mean: new Float64Array(48).fill(2.6),
        count: new Uint32Array(48).fill(3600),
      },
      findings: {
        ...findings,
        lowSupply: [],
        pumpStarts: [{ start: at(70) }, { start: at(1500) }],
        weakInlet: Array.from({ length: 20 }, (_each, run) => ({
          start: at(420 + run * 120),
          end: at(421 + run * 120),
          minBar: run / 100,
          ...(run < 9 ? { pullBar: 0.5 - run / 100, standingBar: 0.5 } : {}),
        })),
        cycling: Array.from({ length: 18 }, (_each, spell) => ({
          start: at(1445 + spell * 60),
          end: at(1475 + spell * 60),
          kind: 'no_demand' as const,
          starts: 5,
          startsPerHour: 10,
          causes: ['leak' as const],
        })),
        fitting: {
          at: at(1440),
          from: 'entered',
          outlets: [
            {
              quantity: 'flowLpm',
              pairs: [
                { outlet: 'kitchen <tap>', before: 6.5, after: 10.2 },
                { outlet: 'bath', before: 7, after: 6 },
              ],
              gain: 1.4,
              interval: [-1, 3.7],
              answer: 'no change shown',
            },
          ],
          logged: [
            {
              figure: 'kept95',
              daysBefore: 1,
              daysAfter: 14,
              fromBar: 2.07,
              toBar: 2.06,
              interval: [-0.07, 0.06],
              answer: 'no change shown',
            },
          ],
        },
      },
    };
  }
  /** Each table as its rows of cells. */
  const tables = (input: LetterInput) =>
    letterContent(input)
      .sections.flatMap(({ blocks }) => blocks)
      .flatMap((block) => (block.kind === 'table' ? [block.table] : []));

  it('every outlet stands with what it gave before and after, and the change of all with its interval', () => {
    const table = tables(pumpLetter()).find(({ caption }) => caption.includes('outlets gave'))!;
    expect(table.caption).toContain('the fitting on 20 October 2026');
    expect(table.rows).toEqual([
      ['kitchen <tap>', '6.5', '10.2', '+3.7'],
      ['bath', '7.0', '6.0', '−1.0'],
      ['Together (95 %)', '', '', '+1.4 (−1.0 to +3.7)'],
    ]);
    const logged = tables(pumpLetter()).find(({ caption }) => caption.startsWith('The logged pressure'))!;
    expect(logged.rows[0]).toEqual([
      'Kept for 95 % of a day',
      '2.07 bar (1 day)',
      '2.06 bar (14 days)',
      '−0.01 (−0.07 to +0.06)',
      'no change beyond chance',
    ]);
    expect(renderHtml(letterContent(pumpLetter()))).toContain('kitchen &lt;tap&gt;');
  });

  it('many starved runs and spells stand by day, none left out', () => {
    // 07:00 to midnight every two hours, then on: nine runs on the first day and eleven on the second.
    const inlet = tables(pumpLetter()).find(({ caption }) => caption.startsWith('Inlet too low'))!;
    expect(inlet.rows).toEqual([
      ['Mon 19 Oct', '9', '07:00 to 23:01', '9 min', '0.00 bar', '0.50 bar'],
      ['Tue 20 Oct', '11', '01:00 to 21:01', '11 min', '0.09 bar', 'not known'],
    ]);
    const cycling = tables(pumpLetter()).find(({ caption }) => caption.startsWith('The pump cycles, 18 spells'))!;
    expect(cycling.rows).toEqual([
      [
        'Tue 20 Oct',
        '18',
        '00:05 to 17:35',
        '9 h 00 min',
        '90',
        '10',
        'with nobody drawing',
        'a leak or a dripping outlet',
      ],
    ]);
  });

  it('its strips show the readings as a band, the starts as ticks, and its cycling in a lane that hides neither', () => {
    const shapes = dayStrips(pumpLetter()).flatMap(({ drawing }) => drawing.shapes);
    expect(shapes.filter((shape) => shape.kind === 'area' && shape.ink === 'band')).toHaveLength(2);
    const hatched = shapes.flatMap((shape) => (shape.kind === 'hatch' ? [shape.height] : []));
    expect(hatched).toHaveLength(18);
    expect(Math.max(...hatched)).toBeLessThan(10);
    expect(spanChart(pumpLetter()).shapes).toContainEqual(expect.objectContaining({ kind: 'text', text: 'fitted' }));
  });

  it('everything drawn or written stays on its paper', async () => {
    for (const input of [pumpLetter(), sampleLetter(1), sampleLetter(28)]) {
      for (const drawing of [spanChart(input), ...dayStrips(input).map((strips) => strips.drawing)])
        for (const shape of drawing.shapes) {
          if (shape.kind !== 'text') continue;
          // DejaVu Sans is about 0.6 of its size wide a letter.
          const width = shape.text.length * shape.size * 0.55;
          const left =
            shape.anchor === 'start' ? shape.x : shape.anchor === 'middle' ? shape.x - width / 2 : shape.x - width;
          expect(left, shape.text).toBeGreaterThanOrEqual(-4);
          expect(left + width, shape.text).toBeLessThanOrEqual(drawing.width + 4);
        }
    }
  });
});

describe('the pictures', () => {
  it('mark every period once in the span and once in its day', () => {
    const input = sampleLetter(14);
    const hatched = (drawings: readonly { shapes: readonly { kind: string }[] }[]) =>
      drawings.flatMap(({ shapes }) => shapes.filter((shape) => shape.kind === 'hatch')).length;
    expect(hatched([spanChart(input)])).toBe(input.findings.lowSupply.length);
    expect(hatched(dayStrips(input).map(({ drawing }) => drawing))).toBe(input.findings.lowSupply.length);
  });

  it('stand exactly under one another: the same clock time has the same place on every day, also after the clock change', () => {
    const places = dayStrips(sampleLetter(14))
      .flatMap(({ drawing }) => drawing.shapes)
      .flatMap((shape) => (shape.kind === 'hatch' ? [Math.round(shape.x * 100)] : []));
    expect(new Set(places).size).toBe(1);
  });

  it('break the line where nothing is known', () => {
    const input = sampleLetter(1);
    const standing = input.findings.standing!;
    const holed = {
      ...input,
      findings: {
        ...input.findings,
        standing: { ...standing, bar: standing.bar.map((value, index) => (index > 600 && index < 700 ? null : value)) },
      },
    };
    const lines = (drawing: typeof input) =>
      spanChart(drawing).shapes.filter((shape) => shape.kind === 'line' && shape.ink === 'water').length;
    expect(lines(holed)).toBe(lines(input) + 1);
  });

  it('make well-formed SVG of any text', () => {
    fc.assert(
      fc.property(fc.string(), (text) => {
        const svg = drawingToSvg({
          width: 10,
          height: 10,
          description: text,
          shapes: [{ kind: 'text', x: 0, y: 0, text, size: 7, ink: 'ink', anchor: 'start' }],
        });
        expect(svg.replace(/<\/?(svg|title|text)[^<>]*>/g, '')).not.toMatch(/[<>]/);
      }),
    );
  });

  it('a reduced line keeps the highest and lowest point of every column', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 10, noNaN: true }), { minLength: 1, maxLength: 300 }),
        fc.integer({ min: 1, max: 40 }),
        (values, width) => {
          const pieces = reduceLine(
            values.map((_, index) => index),
            values,
            (at, bar) => [at, -bar],
            width,
            1,
          );
          const drawn = pieces.flat().map(([, y]) => -y);
          expect(Math.max(...drawn)).toBe(Math.max(...values));
          expect(Math.min(...drawn)).toBe(Math.min(...values));
          expect(drawn.length).toBeLessThanOrEqual(2 * Math.ceil(values.length / width) + 2);
        },
      ),
    );
  });

  it('a scale is round, starts at nought and holds its highest value', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.01, max: 25, noNaN: true }), (highest) => {
        const scale = pressureScale(highest, 100, 0);
        expect(scale.ticks[0]).toBe(0);
        expect(scale.top).toBeGreaterThanOrEqual(highest);
        expect(scale.place(0)).toBe(100);
        expect(scale.ticks.length).toBeLessThanOrEqual(8);
      }),
    );
  });

  it('hatching stays inside its box', () => {
    for (const [x1, y1, x2, y2] of hatchStrokes({ x: 10, y: 20, width: 33, height: 17 })) {
      for (const x of [x1, x2]) expect(x >= 10 && x <= 43).toBe(true);
      for (const y of [y1, y2]) expect(y >= 20 - 1e-9 && y <= 37 + 1e-9).toBe(true);
    }
  });
});

describe('the PDF', () => {
  it('is one, holds every page, and the same letter gives the same bytes', async () => {
    const input = sampleLetter(28, 'Straße 12, Łąkowa, Οδός');
    const once = await renderPdf(letterContent(input), input.writtenMs);
    const again = await renderPdf(letterContent(input), input.writtenMs);
    expect(Buffer.from(once.subarray(0, 5)).toString()).toBe('%PDF-');
    expect(Buffer.from(once).equals(Buffer.from(again))).toBe(true);
    expect(
      Buffer.from(once)
        .toString('latin1')
        .match(/\/Type \/Page\b/g)!.length,
    ).toBeGreaterThanOrEqual(3);
  });
});
