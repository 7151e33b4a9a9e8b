import { spawn } from 'node:child_process';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, api, exportedSamples } from '../support/api.ts';
import { skipWithoutMosquitto, startMosquitto } from '../support/mosquitto.ts';
import { linesOf, openData, skipWithoutOpenData } from '../support/open-data.ts';
import { findProgram, skipWithout } from '../support/outside-programs.ts';
import { eventually, type RunningProgram, runCommand, startProgram } from '../support/program.ts';

/*
 * Measured series of other people, with the oddities that their READMEs name. Usable rows are counted here by splitting
 * lines, without the program's reader.
 */
const skip = skipWithoutOpenData();
let program: RunningProgram;
let site: string;

beforeAll(async () => {
  if (skip) return;
  program = await startProgram();
  site = await addSite(program.base, 'Bench house, 3 Sample Row', 'Europe/Berlin');
});
afterAll(async () => {
  if (!skip) await program.stop();
});

interface Report {
  rows: number;
  stored: number;
  duplicate: number;
  conflict: number;
  refused: { line: number; reason: string }[];
  refusedCount: number;
}

async function importByCommand(file: string, logger: string, options: readonly string[]): Promise<Report> {
  const run = await runCommand(['import', file, '--logger', logger, '--data', program.folder, '--json', ...options]);
  expect(run.stderr + run.stdout, run.stderr).not.toContain('Something went wrong');
  expect(run.code, run.stderr).toBe(0);
  return JSON.parse(run.stdout) as Report;
}

describe.skipIf(skip)('logs of other people', () => {
  it('a bench pressure in MPa at 10 Hz, whose times of day need a start date, and whose last row is no sample', async () => {
    const file = openData('pipeline-bench/1bengzc.csv.gz')!;
    // Below its samples the file holds a row of averages at time `0`, then rows of nothing but commas.
    const rows = linesOf(file)
      .slice(1)
      .filter((line) => /[^,]/.test(line));
    const usable = rows.filter((line) => /^\d\d:\d\d\.\d,\d/.test(line));
    await addLogger(program.base, site, 'bench', {
      channels: [{ channel: 'pressure', unit: 'MPa', rangeBar: [0, 14] }],
    });

    const asked = await runCommand([
      'import',
      file,
      '--logger',
      'bench',
      '--data',
      program.folder,
      '--value',
      'pre1',
      '--unit',
      'MPa',
      '--zone',
      'UTC',
    ]);
    expect(asked.code).toBe(1);
    expect(asked.stderr).toContain('--date');

    const options = ['--value', 'pre1', '--unit', 'MPa', '--zone', 'UTC', '--date', '2024-10-22T14', '--time', 'time'];
    const report = await importByCommand(file, 'bench', options);
    expect(report).toMatchObject({
      stored: usable.length,
      duplicate: 0,
      conflict: 0,
      refusedCount: rows.length - usable.length,
    });
    expect(report.refused).toHaveLength(1);
    expect(report.refused[0]!.line).toBe(1 + rows.length);

    const samples = await exportedSamples(program.base, 'bench');
    expect(samples).toHaveLength(usable.length);
    expect(samples[0]).toEqual([Date.UTC(2024, 9, 22, 14, 14, 11, 600), Number(usable[0]!.split(',')[1])]);
    console.log(
      `bench pressure: ${report.rows} rows, ${report.stored} stored, ${report.refusedCount} refused (line ${report.refused[0]!.line}: ${report.refused[0]!.reason})`,
    );

    const again = await importByCommand(file, 'bench', options);
    expect(again).toMatchObject({ stored: 0, duplicate: usable.length });
    const chart = await api<{ time: number[]; max: number[] }>(
      program.base,
      'GET',
      '/api/loggers/bench/series?channel=pressure&from=2024-10-22T14:14:00Z&to=2024-10-22T14:26:00Z&points=500',
    );
    expect(chart.time.length).toBeGreaterThan(100);
    // 1 pump: mean of pre1 is 0.181 MPa by the data set's README.
    expect(Math.max(...chart.max)).toBeGreaterThan(1.7);
  });

  it('a works flow in m³/h by the minute, in German local time, with a long block without values', async () => {
    const file = openData('waterworks-minute/part1_2016-08-03_2016-09-19.csv.gz')!;
    const rows = linesOf(file)
      .slice(1)
      .map((line) => line.split(','));
    const usable = rows.filter((cells) => cells[9] !== 'NA');
    await addLogger(program.base, site, 'works', { channels: [{ channel: 'flow', unit: 'm3/h' }] });
    const report = await importByCommand(file, 'works', [
      '--channel',
      'flow',
      '--time',
      'Time',
      '--value',
      'Fm',
      '--unit',
      'm3/h',
      '--zone',
      'Europe/Berlin',
    ]);
    expect(report.rows).toBe(rows.length);
    expect(report.stored + report.duplicate + report.conflict).toBe(usable.length);
    expect(report.refusedCount).toBe(rows.length - usable.length);
    expect(report.refused[0]!.reason).toContain('NA');
    console.log(
      `works flow: ${report.rows} rows, ${report.stored} stored, ${report.duplicate} duplicate, ${report.conflict} conflict, ${report.refusedCount} refused (line ${report.refused[0]!.line}: ${report.refused[0]!.reason})`,
    );
    const samples = await exportedSamples(program.base, 'works', 'flow');
    expect(samples).toHaveLength(report.stored);
    // 2016-08-03 11:49 summer time in Berlin is 09:49 UTC (IANA data).
    expect(samples[0]).toEqual([Date.UTC(2016, 7, 3, 9, 49), 1677]);
  });

  it('a test loop with semicolons, pressure and flow, through HTTP', async () => {
    const file = openData('skab/valve1/0.csv')!;
    const rows = linesOf(file).slice(1);
    await addLogger(program.base, site, 'loop', {
      channels: [
        { channel: 'pressure', unit: 'bar', rangeBar: [-1, 10] },
        { channel: 'flow', unit: 'l/min' },
      ],
    });
    for (const [channel, column, unit] of [
      ['pressure', 'Pressure', 'bar'],
      ['flow', 'Volume Flow RateRMS', 'l/min'],
    ] as const) {
      const query = new URLSearchParams({ channel, time: 'datetime', value: column, unit, zone: 'UTC' });
      const response = await fetch(`${program.base}/api/loggers/loop/import?${query}`, {
        method: 'POST',
        headers: { 'content-type': 'text/csv' },
        body: `${linesOf(file).join('\n')}\n`,
      });
      expect(response.status).toBe(200);
      expect(await response.json()).toMatchObject({ rows: rows.length, stored: rows.length, refusedCount: 0 });
    }
    expect(await exportedSamples(program.base, 'loop')).toHaveLength(rows.length);
  });

  const noClient = skipWithoutMosquitto() || skipWithout('mosquitto_pub');
  it.skipIf(noClient)(
    'the same pressures replayed through an independent broker at QoS 1 with the stock client',
    async () => {
      const file = openData('skab/valve1/0.csv')!;
      const rows = linesOf(file)
        .slice(1)
        .map((line) => line.split(';'));
      const broker = await startMosquitto({ lines: ['allow_anonymous true', 'max_queued_messages 0'] });
      const collector = await startProgram({ flags: ['--broker', broker.url] });
      try {
        await addLogger(collector.base, await addSite(collector.base), 'loop');
        const messages = rows.map((cells) =>
          JSON.stringify({ time: `${cells[0]!.replace(' ', 'T')}Z`, value: Number(cells[4]) }),
        );
        const client = spawn(
          findProgram('mosquitto_pub')!,
          ['-h', '127.0.0.1', '-p', String(broker.port), '-q', '1', '-t', 'mainsdiary/loop/pressure', '-l'],
          { stdio: ['pipe', 'inherit', 'inherit'] },
        );
        client.stdin.end(`${messages.join('\n')}\n`);
        expect(await new Promise((resolve) => client.once('exit', resolve))).toBe(0);
        const samples = await eventually(
          () => exportedSamples(collector.base, 'loop'),
          (found) => found.length >= rows.length,
        );
        expect(samples).toEqual(
          rows.map((cells) => [Date.parse(`${cells[0]!.replace(' ', 'T')}Z`), Number(Number(cells[4]).toPrecision(9))]),
        );
        console.log(`replayed through an independent broker: ${messages.length} published, ${samples.length} stored`);
      } finally {
        await collector.stop();
        await broker.stop();
      }
    },
  );
});
