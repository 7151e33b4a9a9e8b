import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, describe, expect, it } from 'vitest';
import { simulateCommand } from '../../../api/command-line/simulate.ts';

const folder = mkdtempSync(join(tmpdir(), 'simulate-'));
const file = (name: string): string => join(folder, name);
afterAll(() => rmSync(folder, { recursive: true }));

describe('mainsdiary simulate', () => {
  it('writes the log, the truth and the site, the same bytes for the same seed', async () => {
    for (const round of ['a', 'b']) {
      const code = await simulateCommand.run([], {
        scenario: 'weekday-morning-sag',
        days: '1',
        seed: '7',
        out: file(`${round}.csv`),
        truth: file(`${round}.json`),
        site: file(`${round}-site.json`),
      });
      expect(code).toBe(0);
    }
    for (const ending of ['.csv', '.json', '-site.json']) {
      expect(readFileSync(file(`a${ending}`))).toEqual(readFileSync(file(`b${ending}`)));
    }
    expect(readFileSync(file('a.csv'), 'utf8').split('\n')).toHaveLength(86_402);
    expect(JSON.parse(readFileSync(file('a-site.json'), 'utf8'))).toMatchObject({ intervalS: 1, flowMeter: null });
    expect(JSON.parse(readFileSync(file('a.json'), 'utf8'))).toHaveProperty('lowSupply');
  });

  it('compresses what ends in .gz and starts where it is told', async () => {
    await simulateCommand.run([], {
      scenario: 'good-supply',
      days: '0.5',
      interval: '60',
      start: '2026-01-02T03:04:05Z',
      out: file('c.csv.gz'),
    });
    const lines = gunzipSync(readFileSync(file('c.csv.gz')))
      .toString()
      .split('\n');
    expect(lines[1]).toMatch(/^2026-01-02T03:04:05Z,/);
    expect(lines).toHaveLength(722);
  });

  it.each([
    ['no scenario', { out: 'x.csv' }, /No scenario/],
    ['an unknown scenario', { scenario: 'nothing-such', out: 'x.csv' }, /no scenario "nothing-such"/],
    ['nothing to write', { scenario: 'good-supply' }, /Nothing to write/],
    ['too many days', { scenario: 'good-supply', days: '4000', out: 'x.csv' }, /--days "4000"/],
    ['an interval of half a second', { scenario: 'good-supply', interval: '0.5', out: 'x.csv' }, /--interval "0.5"/],
    ['a start that is no time', { scenario: 'good-supply', start: 'soon', out: 'x.csv' }, /--start "soon"/],
    [
      'a logger name with a slash',
      { scenario: 'good-supply', days: '0.1', broker: 'mqtt://127.0.0.1:9', logger: 'a/b' },
      /--logger "a\/b"/,
    ],
  ])('refuses %s with the value seen and an example', async (_name, options, message) => {
    await expect(simulateCommand.run([], options as Record<string, string>)).rejects.toMatchObject({
      code: 'option_wrong',
      message: expect.stringMatching(message) as unknown as string,
      hint: expect.stringMatching(/.+/) as unknown as string,
    });
  });

  it('says which file could not be written', async () => {
    const out = file('missing/x.csv');
    await expect(simulateCommand.run([], { scenario: 'good-supply', days: '0.1', out })).rejects.toMatchObject({
      code: 'file_not_written',
    });
  });
});
