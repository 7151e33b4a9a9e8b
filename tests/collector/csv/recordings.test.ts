import { createReadStream } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { CsvOptions } from '../../../collector/csv/csv-options.ts';
import { importCsv } from '../../../collector/csv/import-csv.ts';
import { linesOf, openData, skipWithoutOpenData } from '../../support/open-data.ts';
import { NOW_MS, questionsOf } from './csv-support.ts';

/*
 * Recordings of others, read from beside the project where they are at hand; each folder's README names its source.
 * Every count is taken a second time, from the text, without the tokenizer and the readers under test.
 */
const skip = skipWithoutOpenData();

/** Cells of a column (0-based) in lines that have it filled. */
function filled(path: string, column: number, delimiter = ','): string[] {
  return linesOf(openData(path)!)
    .slice(1)
    .map((line) => line.split(delimiter)[column]?.replaceAll('"', '').trim() ?? '')
    .filter((cell) => /^-?\d/.test(cell));
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

async function importFile(path: string, options: Partial<CsvOptions>) {
  const times: number[] = [];
  const values: number[] = [];
  const report = await importCsv({
    input: createReadStream(openData(path)!),
    options: { loggerId: 'recording', channel: 'pressure', ...options },
    nowMs: NOW_MS,
    storePieces: async (pieces) => {
      for (const piece of pieces) {
        times.push(...piece.timeMs);
        values.push(...piece.value);
      }
      return pieces.map((piece) => ({ stored: piece.timeMs.length, duplicate: 0, conflict: 0 }));
    },
  });
  return { report, times, values };
}

describe.skipIf(skip)('recordings of others', () => {
  it('pipe bench, one pump: minutes and seconds need a date; the row of averages at the end is refused', async () => {
    const path = 'pipeline-bench/1bengzc.csv.gz';
    const questions = await questionsOf(importFile(path, { value: 'pre1', unit: 'MPa' }));
    expect(questions.map((question) => question.option)).toEqual(['date']);
    const { report, times, values } = await importFile(path, { value: 'pre1', unit: 'MPa', date: '2024-10-22T15' });
    const counted = linesOf(openData(path)!).filter((line) => /^\d+:\d+\.\d,/.test(line)).length;
    expect(counted).toBe(6548);
    expect(report).toMatchObject({ rows: 6549, stored: counted, refusedCount: 1 });
    expect(report.refused[0]).toEqual({ line: 6550, reason: 'the time "0" can\'t be read' });
    expect(mean(values)).toBeCloseTo(0.181, 3);
    // The README: one row per 100 ms, a single step of 0.2 s.
    const steps = times.slice(1).map((atMs, i) => atMs - times[i]!);
    expect(steps.filter((step) => step === 100).length).toBe(counted - 2);
    expect(steps.filter((step) => step === 200).length).toBe(1);
  });

  it.each([
    ['pipeline-bench/3bengzc.csv.gz', 6383, 0.562],
    ['pipeline-bench/5bengzc.csv.gz', 7154, 0.936],
  ])('pipe bench, %s: dates with slashes, spaces before the comma', async (path, rows, meanMpa) => {
    const { report, values } = await importFile(path, { value: 'pre1', unit: 'MPa', zone: 'Asia/Shanghai' });
    expect(filled(path, 1)).toHaveLength(rows);
    expect(report).toMatchObject({ rows, stored: rows, refusedCount: 0 });
    expect(values).toEqual(filled(path, 1).map(Number));
    expect(mean(values)).toBeCloseTo(meanMpa, 3);
  });

  it('water works: quoted header, row numbers, German local time, a block of 984 NA', async () => {
    const path = 'waterworks-minute/part1_2016-08-03_2016-09-19.csv.gz';
    const { report, times, values } = await importFile(path, {
      channel: 'flow',
      value: 'Fm',
      unit: 'm3/h',
      zone: 'Europe/Berlin',
    });
    const counted = filled(path, 9);
    expect(counted).toHaveLength(67_427);
    expect(report).toMatchObject({ rows: 68_411, stored: 67_427, refusedCount: 984 });
    expect(report.refused).toHaveLength(100);
    expect(report.refused[0]).toEqual({ line: 37_154, reason: 'the value is "NA": no reading' });
    expect(values).toEqual(counted.map(Number));
    // 2016-08-03 11:49 in Germany is 09:49 UTC (summer time).
    expect(new Date(times[0]!).toISOString()).toBe('2016-08-03T09:49:00.000Z');
  });

  it.each([
    ['dma1_lps', 1, 18_901],
    ['dma2_lps', 2, 19_071],
    ['dma3_lps', 3, 19_574],
    ['dma4_lps', 4, 18_719],
    ['dma5_lps', 5, 18_921],
  ])(
    'area inflow %s: day-first dates, hourly local time, 02:00 twice in two autumns',
    async (value, column, stored) => {
      const path = 'dma-inflow-hourly/inflow_dma1-5.csv.gz';
      const { report, times, values } = await importFile(path, { channel: 'flow', value, zone: 'Europe/Rome' });
      expect(filled(path, column)).toHaveLength(stored);
      expect(report).toMatchObject({
        rows: 19_679,
        stored,
        refusedCount: 19_679 - stored,
        understood: { unit: 'l/s' },
      });
      expect(values).toEqual(filled(path, column).map((cell) => Number(Number(cell).toPrecision(9))));
      const steps = times.slice(1).map((atMs, i) => atMs - times[i]!);
      expect(Math.min(...steps)).toBe(3_600_000);
      expect(new Date(times[0]!).getUTCMinutes()).toBe(0);
    },
  );

  it('area inflow: every hour of 27 months is there once, both passes of 02:00 included', async () => {
    const { times } = await importFile('dma-inflow-hourly/inflow_dma1-5.csv.gz', {
      channel: 'flow',
      value: 'dma3_lps',
      zone: 'Europe/Rome',
    });
    for (const hour of [
      '2021-10-31T00:00:00Z',
      '2021-10-31T01:00:00Z',
      '2022-10-30T00:00:00Z',
      '2022-10-30T01:00:00Z',
    ]) {
      expect(times).toContain(Date.parse(hour));
    }
    expect(new Set(times).size).toBe(times.length);
  });

  it.each([
    ['p227', 1],
    ['p235', 2],
    ['PUMP_1', 3],
  ])('L-Town inflow %s: semicolons and decimal commas', async (value, column) => {
    const path = 'ltown-2019/Flows_2019H1.csv.gz';
    const { report, values } = await importFile(path, { channel: 'flow', value, unit: 'm3/h', zone: 'UTC' });
    expect(report).toMatchObject({ rows: 52_128, stored: 52_128, refusedCount: 0 });
    expect(values).toEqual(filled(path, column, ';').map((cell) => Number(cell.replace(',', '.'))));
  });

  it.each([
    ['anomaly-free/anomaly-free', 9405],
    ['valve1/0', 1147],
    ['valve1/1', 1145],
    ['valve1/2', 1075],
    ['valve1/3', 1148],
    ['valve1/4', 1095],
    ['valve1/5', 1154],
    ['valve1/6', 1154],
    ['valve1/7', 1094],
  ])('circulation loop %s: semicolons, a column datetime', async (name, rows) => {
    const path = `skab/${name}.csv`;
    const { report, values } = await importFile(path, { value: 'Pressure', zone: 'Europe/Moscow' });
    const counted = filled(path, 4, ';').map(Number);
    expect(counted).toHaveLength(rows);
    expect(report).toMatchObject({ rows, stored: rows, refusedCount: 0 });
    expect(values).toEqual(counted.map((value) => Number(value.toPrecision(9))));
  });

  it.each([
    ['feed_Kitchenfaucet.MYD.csv.gz', 167_065, ','],
    ['feed_Shower.MYD.csv.gz', 170_181, ' '],
    ['feed.Toilet.csv.gz', 1188, ' '],
    ['feed_WholeHouse_part1.csv.gz', 16_047, ' '],
  ])("a flat's meter %s: POSIX seconds, comma or space, header or none", async (name, rows, delimiter) => {
    const { report } = await importFile(`domestic-flow/${name}`, { channel: 'flow' });
    expect(report).toMatchObject({ rows, stored: rows, refusedCount: 0, understood: { delimiter } });
  });

  it('machine temperature: 55 minutes of stamps come twice, and both rows are handed on', async () => {
    const { report, times } = await importFile('nab/machine_temperature_system_failure.csv', {
      channel: 'temperature',
      unit: 'degF',
      zone: 'UTC',
    });
    expect(report).toMatchObject({ rows: 22_695, stored: 22_695 });
    expect(new Set(times).size).toBe(new Set(filled('nab/machine_temperature_system_failure.csv', 0)).size);
  });
});
