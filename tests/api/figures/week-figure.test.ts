import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { SHADES, shadeScale, weekFigure } from '../../../api/figures/week-figure.ts';
import { patternOf, sagging } from './a-pattern.ts';

describe('shades', () => {
  it('a lower median never is paler, each shade holds what its words say, and both ends are held', () => {
    const pressure = fc.integer({ min: 0, max: 12_000 }).map((millibar) => millibar / 1000);
    fc.assert(
      fc.property(fc.uniqueArray(pressure, { minLength: 1, maxLength: 168 }), (values) => {
        const ascending = [...values].sort((a, b) => a - b);
        const { shadeOf, shades } = shadeScale(ascending[0]!, ascending.at(-1)!);
        expect(shades).toHaveLength(SHADES);
        let last = SHADES;
        for (const bar of ascending) {
          const shade = shadeOf(bar);
          expect(shade).toBeLessThanOrEqual(last);
          last = shade;
          expect(bar).toBeGreaterThanOrEqual(shades[shade]!.fromBar - 1e-6);
          expect(bar).toBeLessThanOrEqual(shades[shade]!.toBar + 1e-6);
        }
      }),
    );
  });

  it('a steady street has no dark hours: medians a tenth of a bar apart lie within two shades', () => {
    fc.assert(
      fc.property(fc.integer({ min: 100, max: 9000 }), (millibar) => {
        const { shadeOf } = shadeScale(millibar / 1000, millibar / 1000 + 0.1);
        expect(shadeOf(millibar / 1000)).toBeLessThanOrEqual(2);
      }),
    );
  });

  it('their edges are round', () => {
    expect(shadeScale(0.49, 1.57).shades.map(({ fromBar, toBar }) => [fromBar, toBar])).toEqual([
      [1.4, 1.6],
      [1.2, 1.4],
      [1, 1.2],
      [0.8, 1],
      [0.6, 0.8],
      [0.4, 0.6],
    ]);
  });
});

describe('the table of the week', () => {
  const figure = weekFigure(patternOf(14, sagging), 60);

  it('has each weekday’s hours with what they stand on', () => {
    expect(figure.days.map((cells) => cells.length)).toEqual([24, 24, 24, 24, 24, 24, 24]);
    expect(figure.days[2]![7]).toEqual({
      weekday: 3,
      hour: 7,
      medianBar: 0.5,
      lowBar: 0.5,
      minutes: 120,
      days: 2,
      shade: SHADES - 1,
      below: 'usually',
    });
    expect(figure.days[5]![7]).toMatchObject({ medianBar: 1.5, shade: 0, below: undefined });
    expect({ known: figure.knownCells, days: figure.daysRange }).toEqual({ known: 168, days: [2, 2] });
    expect(figure.shades.map(({ shade }) => shade)).toEqual([0, SHADES - 1]);
  });

  it('marks an hour whose lowest tenth only is below the threshold', () => {
    // Twelve minutes of sixty: the lowest tenth is below, the median isn't.
    const cell = weekFigure(
      patternOf(7, (minute) => (minute % 60 < 12 ? 0.5 : 1.5)),
      60,
    ).days[0]![0];
    expect(cell).toMatchObject({ medianBar: 1.5, lowBar: 0.5, below: 'at_times' });
  });

  it('leaves empty what isn’t known', () => {
    const half = weekFigure(
      patternOf(7, (minute, day) => (day < 2 && minute >= 720 ? Number.NaN : 2)),
      60,
    );
    expect(half.days[0]!.map((cell) => cell === undefined)).toEqual(
      Array.from({ length: 24 }, (_, hour) => hour >= 12),
    );
    expect(half.knownCells).toBe(144);
  });
});
