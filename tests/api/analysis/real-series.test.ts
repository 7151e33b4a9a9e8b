import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { analyse } from '../../../api/analysis/analyse.ts';
import { PASCAL_PER_PSI } from '../../../collector/model/units.ts';
import { PLAIN_SITE } from './plain-house.ts';

const folder = fileURLToPath(new URL('../../../../shared/data/', import.meta.url));
const present = existsSync(folder);
if (!present) console.log('skipped: real series need the folder shared/data beside the checkout');

function rowsOf(file: string): string[][] {
  const text = gunzipSync(readFileSync(folder + file)).toString('latin1');
  return text
    .trim()
    .split('\n')
    .map((line) => line.split(','));
}

describe.skipIf(!present)('series from elsewhere: nothing is invented', () => {
  // EPANET's Net1 over a week at a minute: high pressures that move with a pump and a tank, no house.
  it('a textbook network’s node has no low supply', () => {
    const rows = rowsOf('epanet-sim/net1_7d_1min.csv.gz').slice(1);
    const columns = {
      timeMs: Float64Array.from(rows, (row) => Date.parse('2026-05-04T00:00:00Z') + Number(row[0]) * 1000),
      pressureBar: Float64Array.from(rows, (row) => (Number(row[8]) * PASCAL_PER_PSI) / 1e5),
    };
    const found = analyse(columns, {
      ...PLAIN_SITE,
      intervalS: 60,
      sensor: { ...PLAIN_SITE.sensor, rangeBar: [0, 16] },
    });
    expect(found.lowSupply).toEqual([]);
    expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
  });

  // A real bench transmitter at 10 Hz and a constant working point, repeated rows left as they are.
  it.each(['pipeline-bench/3bengzc.csv.gz', 'pipeline-bench/5bengzc.csv.gz'])(
    '%s: steady running has no finding',
    (file) => {
      const rows = rowsOf(file)
        .slice(1)
        .filter((row) => Number(row[1]) > 0);
      const columns = {
        timeMs: Float64Array.from(rows, (_, i) => Date.parse('2026-05-04T00:00:00Z') + i * 1000),
        pressureBar: Float64Array.from(rows, (row) => Number(row[1]) * 10),
      };
      const found = analyse(columns, { ...PLAIN_SITE, sensor: { ...PLAIN_SITE.sensor, rangeBar: [0, 16] } });
      expect(found.lowSupply).toEqual([]);
      expect(found.changes).toEqual([]);
      expect(found.faults.filter((fault) => fault.kind === 'stuck' || fault.kind === 'offset_step')).toEqual([]);
    },
  );
});
