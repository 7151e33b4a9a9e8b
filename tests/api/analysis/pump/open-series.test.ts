import { describe, expect, it } from 'vitest';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { linesOf, openData, skipWithoutOpenData } from '../../../support/open-data.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

// Five loads of a real compressor with its vessel (MetroPT-3, UCI data set 791, CC BY 4.0): starts and stops as listed
// by the data set's digital valve signal. Air, not water, yet the same saw; steps of 9 or 10 s.
const LOADS: readonly (readonly [start: string, stop: string])[] = [
  ['00:23:08', '00:24:57'],
  ['00:57:19', '00:58:58'],
  ['01:30:41', '01:32:20'],
  ['02:04:23', '02:06:02'],
  ['02:37:54', '02:39:34'],
];
const DAY = '2020-02-01T';

describe('a real pressure vessel', () => {
  it('shows its five starts and stops within two intervals, and no other', (context) => {
    const path = openData('vessel-cycling/metropt3_first1000.csv');
    if (path === undefined) {
      skipWithoutOpenData();
      context.skip();
      return;
    }
    const [header, ...lines] = linesOf(path);
    const names = header!.split(',');
    const rows = lines.map((text) => text.split(','));
    const timeMs = Float64Array.from(rows, (row) =>
      Date.parse(`${row[names.indexOf('timestamp')]!.replace(' ', 'T')}Z`),
    );
    const pressureBar = Float64Array.from(rows, (row) => Number(row[names.indexOf('Reservoirs')]));
    const { pumpStarts } = findPump({
      timeMs,
      pressureBar,
      site: OUTLET_SITE,
      intervalS: 10,
      noiseBar: 0.004,
      quantumBar: 0.002,
    });
    expect(pumpStarts).toHaveLength(LOADS.length);
    pumpStarts.forEach((start, k) => {
      expect(Math.abs(Date.parse(start.start) - Date.parse(`${DAY}${LOADS[k]![0]}Z`))).toBeLessThanOrEqual(20_000);
      expect(Math.abs(Date.parse(start.stop!) - Date.parse(`${DAY}${LOADS[k]![1]}Z`))).toBeLessThanOrEqual(20_000);
      // Cut-in 8.06 to 8.07 bar, cut-out 10.07 to 10.10 bar by the data set's notes.
      expect(start.cutInBar).toBeCloseTo(8.06, 1);
      expect(start.cutOutBar).toBeCloseTo(10.08, 1);
    });
  });
});
