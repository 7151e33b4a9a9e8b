import { describe, expect, it } from 'vitest';
import { fitPower } from '../../api/analysis/statistics/power-fit.ts';

/*
 * NIST StRD nonlinear regression, DanWood (Daniel and Wood 1980): y = b1·x^b2, six observations; certified values and data
 * from memory, and consistent with each other to all digits given.
 */
const x = [1.309, 1.471, 1.49, 1.565, 1.611, 1.68];
const y = [2.138, 3.421, 3.597, 4.34, 4.882, 5.66];

describe('a power law against NIST StRD DanWood', () => {
  // NIST's two starts.
  it.each([
    { k: 1, n: 5 },
    { k: 0.7, n: 4 },
  ])('from $k and $n', (start) => {
    const fit = fitPower(x, y, start);
    expect(fit.k).toBeCloseTo(0.76886226176, 9);
    expect(fit.n).toBeCloseTo(3.8604055871, 8);
    expect(fit.kSe).toBeCloseTo(0.01828197386, 9);
    expect(fit.nSe).toBeCloseTo(0.051726610913, 9);
    expect(fit.residualSd).toBeCloseTo(0.032853114039, 9);
  });

  it('a point of no weight counts for nothing', () => {
    const fit = fitPower([...x, 1.5], [...y, 9], { k: 1, n: 4 }, [1, 1, 1, 1, 1, 1, 0]);
    expect(fit.n).toBeCloseTo(3.8604055871, 8);
  });

  it('what was known of the exponent holds where all points are at one x', () => {
    const fit = fitPower([2, 2, 2], [8, 8, 8], { k: 1, n: 2.5 }, [100, 100, 100], { mean: 3, sd: 0.1 });
    expect(fit.n).toBeCloseTo(3, 6);
    expect(fit.k).toBeCloseTo(1, 6);
  });
});
