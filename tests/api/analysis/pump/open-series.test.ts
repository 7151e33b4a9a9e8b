import { describe, expect, it } from 'vitest';
import { analyse } from '../../../../api/analysis/analyse.ts';
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

/*
 * SKAB (waico/SKAB v0.9, GPL-3.0): a real pump on a water loop that runs throughout each file; its transducer steps by
 * 0.328 bar and jitters about 0.05 bar. A jump of one step is no start, whatever valve is throttled meanwhile.
 */
describe('a real pump that runs throughout, read in steps of a third of a bar', () => {
  it.each(['anomaly-free/anomaly-free', 'valve1/0', 'valve1/2', 'valve1/4', 'valve2/1', 'other/1', 'other/14'])(
    '%s: no start, no cycling, no failure is told',
    (name) => {
      const path = openData(`skab/${name}.csv`);
      if (path === undefined) {
        skipWithoutOpenData();
        return;
      }
      const [header, ...lines] = linesOf(path);
      const names = header!.split(';');
      const rows = lines.map((text) => text.split(';'));
      const column = (of: string) => Float64Array.from(rows, (row) => Number(row[names.indexOf(of)]));
      const timeMs = Float64Array.from(rows, (row) => Date.parse(`${row[0]!.replace(' ', 'T')}Z`));
      const pressureBar = column('Pressure');
      // By the data's notes the motor takes 0.29 A and less within seconds of being switched off.
      const pumpOn = column('Current').map((ampere) => (ampere > 0.3 ? 1 : 0));
      for (const channel of [undefined, pumpOn]) {
        const found = analyse({ timeMs, pressureBar, ...(channel ? { pumpOn: channel } : {}) }, OUTLET_SITE);
        expect(found.pumpStarts).toEqual([]);
        expect(found.cycling).toEqual([]);
        expect(found.pumpStates ?? []).toEqual([]);
        expect(found.quantumBar).toBeCloseTo(0.328, 2);
      }
    },
  );
});
