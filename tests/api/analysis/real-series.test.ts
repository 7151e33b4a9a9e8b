import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { analyse } from '../../../api/analysis/analyse.ts';
import type { AnalysisColumns, AnalysisSite, FindingsDocument } from '../../../api/analysis/findings.ts';
import { median } from '../../../api/analysis/statistics/quantile.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import { PASCAL_PER_PSI } from '../../../collector/model/units.ts';
import { MONDAY_MS, PLAIN_SITE } from './plain-house.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;

const folder = fileURLToPath(new URL('../../../../shared/data/', import.meta.url));
const present = existsSync(folder);
if (!present) console.log('skipped: real series need the folder shared/data beside the checkout');

function rowsOf(file: string, separator = ','): string[][] {
  const bytes = readFileSync(folder + file);
  const text = (file.endsWith('.gz') ? gunzipSync(bytes) : bytes).toString('latin1');
  return text
    .trim()
    .split('\n')
    .map((line) => line.split(separator));
}

function incomingMain(intervalS: number, rangeBar: readonly [number, number]): AnalysisSite {
  return { ...PLAIN_SITE, intervalS, sensor: { ...PLAIN_SITE.sensor, rangeBar } };
}

function expectNothingInvented(found: FindingsDocument): void {
  expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
  expect(found.lowSupply).toEqual([]);
  expect(found.changes).toEqual([]);
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

  // Pressures at two ends of the same bench, as logged: ten readings a second, ten minutes and more, one working point.
  describe.each(['1bengzc', '3bengzc', '5bengzc'])('bench %s', (name) => {
    const pressuresOf = (column: number) =>
      rowsOf(`pipeline-bench/${name}.csv.gz`)
        .slice(1)
        // The first file ends with a row of means at the time 0, and empty rows.
        .filter((row) => Number(row[1]) > 0 && row[0] !== '0')
        .map((row) => Number(row[column]) * 10);

    it.each([1, 2])('transmitter %i at ten readings a second', (column) => {
      const pressures = pressuresOf(column);
      const columns = {
        timeMs: Float64Array.from(pressures, (_, i) => MONDAY_MS + i * 100),
        pressureBar: Float64Array.from(pressures),
      };
      expectNothingInvented(analyse(columns, incomingMain(0.1, [0, 16])));
    });

    it.each([1, 2])('transmitter %i read to and fro over two days: every window is known, and none sags', (column) => {
      const pressures = pressuresOf(column);
      const there = pressures.length;
      const rows = 2 * 86_400;
      const columns = {
        timeMs: Float64Array.from({ length: rows }, (_, i) => MONDAY_MS + i * 1000),
        // Turned at either end, so that no joint makes a step that the bench did not have.
        pressureBar: Float64Array.from({ length: rows }, (_, i) => {
          const at = i % (2 * there);
          return pressures[at < there ? at : 2 * there - 1 - at]!;
        }),
      };
      const found = analyse(columns, incomingMain(1, [0, 16]));
      expectNothingInvented(found);
      expect(found.sags.map((sag) => sag.state)).toEqual(['absent', 'absent', 'absent', 'absent']);
    });
  });

  // A lab loop's pressure after its pump: steps of 0.33 bar about nought, one second in twenty missing, valves throttled.
  describe.each([
    'anomaly-free/anomaly-free',
    ...Array.from({ length: 8 }, (_, i) => `valve1/${i}`),
    'valve2/0',
    'valve2/1',
    ...[1, 5, 6, 7, 10, 11, 14].map((i) => `other/${i}`),
  ])('lab loop %s', (name) => {
    const logged = () => {
      const rows = rowsOf(`skab/${name}.csv`, ';').slice(1);
      return {
        timeMs: Float64Array.from(rows, (row) => Date.parse(`${row[0]!.replace(' ', 'T')}Z`)),
        pressureBar: Float64Array.from(rows, (row) => Number(row[4])),
      };
    };

    it('its noise on a main of 3 bar is nothing', () => {
      const { timeMs, pressureBar } = logged();
      expectNothingInvented(
        analyse({ timeMs, pressureBar: pressureBar.map((bar) => bar + 3) }, incomingMain(1, [0, 10])),
      );
    });

    it('as it is, it is one low supply from end to end, without a change or a sag', () => {
      const columns = logged();
      const found = analyse(columns, incomingMain(1, [-2, 10]));
      expect(found.lowSupply).toHaveLength(1);
      expect(found.lowSupply[0]).toMatchObject({ certainty: 'certain', belowFraction: 1 });
      expect(found.changes).toEqual([]);
      expect(found.sags.filter((sag) => sag.state === 'present')).toEqual([]);
    });
  });
});

/**
 * What the definitions say of one window of a day, worked out on the readings themselves (linear between them, a minute
 * each): the median of the night, 01:00 to 05:00, less the lowest mean of five minutes, in bar.
 */
function fallBelowNight({ timeMs, pressureBar }: AnalysisColumns, dayMs: number, fromHour: number, toHour: number) {
  const minutes = (from: number, to: number) => {
    const bars: number[] = [];
    let row = 0;
    for (let atMs = from; atMs < to; atMs += MINUTE_MS) {
      while (row + 1 < timeMs.length && timeMs[row + 1]! <= atMs) row++;
      const next = Math.min(row + 1, timeMs.length - 1);
      const share = next > row ? (atMs - timeMs[row]!) / (timeMs[next]! - timeMs[row]!) : 0;
      bars.push(pressureBar[row]! + share * (pressureBar[next]! - pressureBar[row]!));
    }
    return bars;
  };
  const night = median(minutes(dayMs + HOUR_MS, dayMs + 5 * HOUR_MS));
  const window = minutes(dayMs + fromHour * HOUR_MS - 2 * MINUTE_MS, dayMs + toHour * HOUR_MS + 2 * MINUTE_MS);
  let lowest = Number.POSITIVE_INFINITY;
  for (let i = 2; i + 2 < window.length; i++) {
    const about = window.slice(i - 2, i + 3);
    lowest = Math.min(lowest, about.reduce((sum, bar) => sum + bar, 0) / about.length);
  }
  return night - lowest;
}

/*
 * EPANET’s networks Net1 and Net3 over a week: pressures move by bars with pumps, tanks and demand, so that there are true
 * sags. None may be told where the node itself, at which no house draws, doesn't fall by the least depth that counts.
 */
describe.skipIf(!present)('textbook networks: sags are those of the nodes themselves', () => {
  const nodes = [
    ...[10, 11, 12, 13, 21, 22, 23, 31, 32].map((node) => ({ file: 'net1_7d_1min', intervalS: 60, node })),
    ...[15, 20, 61, 143, 189, 204, 265].map((node) => ({ file: 'net3_7d_5min', intervalS: 300, node })),
  ];

  it.each(nodes)('$file, node $node', ({ file, intervalS, node }) => {
    const [header, ...rows] = rowsOf(`epanet-sim/${file}.csv.gz`);
    const column = header!.indexOf(`P_${node}`);
    const columns = {
      timeMs: Float64Array.from(rows, (row) => MONDAY_MS + Number(row[0]) * 1000),
      pressureBar: Float64Array.from(rows, (row) => (Number(row[column]) * PASCAL_PER_PSI) / 1e5),
    };
    const found = analyse(columns, incomingMain(intervalS, [0, 16]));
    expect(found.lowSupply).toEqual([]);
    expect(found.changes).toEqual([]);
    // Seven days of two windows, and the day that the last reading opens at midnight.
    expect(found.sags).toHaveLength(16);
    for (const sag of found.sags.filter(({ state }) => state === 'present')) {
      const dayMs = MONDAY_MS + Date.parse(sag.day) - Date.parse('2026-05-04');
      const [fromHour, toHour] = sag.window === 'morning' ? [5, 11] : [17, 23];
      const fallBar = fallBelowNight(columns, dayMs, fromHour!, toHour!);
      const told = `${sag.day} ${sag.window}: the node falls by ${fallBar.toFixed(3)} bar`;
      expect(fallBar, told).toBeGreaterThanOrEqual(DEFAULT_THRESHOLDS.sagMinDepthBar);
    }
  });
});
