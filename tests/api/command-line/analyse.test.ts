import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable, Writable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FindingsDocument } from '../../../api/analysis/findings.ts';
import { analyseCommand, analyseFile } from '../../../api/command-line/analyse.ts';
import { findingsAccount } from '../../../api/command-line/findings-account.ts';
import { createLocalFormat, durationText } from '../../../api/command-line/local-format.ts';
import { problemOf } from '../../collector/csv/csv-support.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'mainsdiary-test-'));
  writeFileSync(join(folder, 'site.json'), '{"timeZone": "Europe/London"}');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** An invented day, 10 s apart: the street sinks to 0.5 bar within a quarter of an hour, stays for an hour, comes back. */
const LOG = `time,pressure_bar\n${Array.from({ length: 8640 }, (_, i) => {
  const hour = (i * 10) / 3600;
  const depth = Math.min(1, Math.max(0, (hour - 5.75) * 4), Math.max(0, (7.25 - hour) * 4));
  const bar = 2.4 - 1.9 * depth + ((i * 7919) % 11) / 2000;
  return `${new Date(Date.UTC(2026, 4, 4) + i * 10_000).toISOString()},${bar.toFixed(4)}`;
}).join('\n')}\n`;

async function run(json: boolean) {
  const written = { out: '', err: '' };
  const into = (key: 'out' | 'err') =>
    new Writable({
      write(chunk: Buffer, _encoding, done) {
        written[key] += chunk.toString();
        done();
      },
    });
  await analyseFile(
    { file: '-', site: join(folder, 'site.json'), json },
    { standardInput: Readable.from([Buffer.from(LOG)]), standardOutput: into('out'), standardError: into('err') },
  );
  return written;
}

describe('analyse', () => {
  it('prints the document and nothing else with --json, progress beside it', async () => {
    const { out, err } = await run(true);
    const found = JSON.parse(out) as FindingsDocument;
    expect(found.series).toMatchObject({ start: '2026-05-04T00:00:00Z', samples: 8640, timeZone: 'Europe/London' });
    for (const key of [
      'standing',
      'draws',
      'sags',
      'lowSupply',
      'pumpStarts',
      'cycling',
      'weakInlet',
      'faults',
      'changes',
      'coverage',
    ]) {
      expect(found).toHaveProperty(key);
    }
    expect(err).toContain('8,640 rows read');
  });

  it("without it tells what was found in the site's own time, with certainty and uncertainty", async () => {
    const { out } = await run(false);
    expect(out).toContain('From Mon 2026-05-04 01:00 BST');
    expect(out).toContain('times are local, Europe/London');
    expect(out).toMatch(/Mon 2026-05-04 06:5\d(:\d\d)? to 08:0\d(:\d\d)? BST/);
    expect(out).toMatch(/lowest 0\.\d\d bar, mean 0\.\d\d bar ±0\.\d\d\sbar.*; (certain|possible)/);
    expect(out).toContain('expanded uncertainty, k = 2');
  });

  it('says what is missing', async () => {
    expect((await problemOf(analyseCommand.run(['log.csv'], {}))).code).toBe('option_wrong');
    expect((await problemOf(analyseCommand.run([], { site: 'site.json' }))).code).toBe('option_wrong');
  });
});

describe('the account in words', () => {
  const document = (changes: Partial<FindingsDocument>): FindingsDocument => ({
    series: {
      start: '2026-10-24T23:00:00Z',
      end: '2026-10-26T00:00:00Z',
      samples: 10,
      intervalS: 1,
      timeZone: 'Europe/London',
      position: 'pump_outlet',
    },
    draws: [],
    sags: [],
    lowSupply: [],
    pumpStarts: [],
    cycling: [],
    weakInlet: [],
    faults: [],
    changes: [],
    coverage: { expected: 10, received: 10, validFraction: 1, days: [] },
    sensorUBar: 0.12,
    sensorBudget: [],
    thresholds: { lowSupplyBar: 0.7, weakInletBar: 0.3, sagMinDepthBar: 0.3 },
    qualifying: { occasions: [], pairs: [], interpretation: '' },
    sagSummary: [],
    evidence: { statements: [], open: [] },
    limits: [],
    versions: { analysis: '1' },
    ...changes,
  });

  it('names cycling with its causes and next steps, and marks the hour by its zone when the clock is put back', () => {
    const text = findingsAccount(
      document({
        cycling: [
          {
            kind: 'no_demand',
            start: '2026-10-25T00:30:00Z',
            end: '2026-10-25T01:30:00Z',
            starts: 7,
            startsPerHour: 7.3,
            causes: ['leak', 'check_valve'],
            reasons: ['the pressure tends to 0.1 bar with the pump off'],
            nextSteps: ['shut the valve after the pump and watch'],
          },
        ],
      }),
    );
    expect(text).toContain('Sun 2026-10-25 01:30 BST to 01:30 GMT: cycling without demand, 7.3 starts an hour');
    expect(text).toContain('a leak or a dripping outlet, or a check valve that passes');
    expect(text).toContain('What to do next\n- shut the valve after the pump and watch');
    expect(text).not.toContain('Low supply');
  });

  it('lists no more than a screenful and counts the rest', () => {
    const one = { start: '2026-10-25T06:00:00Z', end: '2026-10-25T06:01:00Z', minBar: 0.1 };
    expect(findingsAccount(document({ weakInlet: Array.from({ length: 40 }, () => one) }))).toContain(
      'and 28 more, all of them with --json',
    );
  });

  const incoming = {
    start: '2026-05-04T00:00:00Z',
    end: '2026-05-05T00:00:00Z',
    samples: 10,
    intervalS: 1,
    timeZone: 'Europe/London',
    position: 'incoming',
  } as const;
  const summary = (present: number) => ({
    window: 'evening' as const,
    days: 'weekdays' as const,
    present,
    judged: 5,
    unknown: 0,
    inDoubt: 0,
    usualStartLocal: '17:40',
    usualEndLocal: '19:15',
    medianDepthBar: 1.08,
    daysToFirm: 18,
  });
  const sag = { day: '2026-05-04', window: 'evening', state: 'present' } as const;

  it('calls nothing usual that was seen once', () => {
    const account = (present: number) =>
      findingsAccount(document({ series: incoming, sags: [sag], sagSummary: [summary(present)] }));
    expect(account(1)).toContain('present on 1 of 5 judged, 17:40 to 19:15, depth 1.08 bar');
    expect(account(2)).toContain('present on 2 of 5 judged, usually 17:40 to 19:15, median depth 1.08 bar');
  });

  it('says "none found" only of what was known', () => {
    const standing = { start: incoming.start, stepS: 60, sdBar: [], bar: [2, 2, 2, null] };
    const nothing = findingsAccount(document({ series: incoming }));
    expect(nothing).not.toContain('None');
    expect(nothing.match(/Can't be told: standing pressure isn't known at any time/g)).toHaveLength(2);
    expect(findingsAccount(document({ series: incoming, standing }))).toContain(
      'None found; standing pressure is known for 0.2 % of the time.',
    );
  });

  it('rounds the sensor’s uncertainty as page and statements do', () => {
    expect(findingsAccount(document({ series: incoming, sensorUBar: 0.1143 }))).toContain(
      'known to within ±0.12\u00a0bar (expanded uncertainty, k = 2)',
    );
  });

  it('of a log without readings says so', () => {
    const series = {
      start: null,
      end: null,
      samples: 0,
      intervalS: null,
      timeZone: 'Europe/London',
      position: 'incoming',
    } as const;
    expect(findingsAccount(document({ series }))).toContain('no readings');
  });

  it('writes durations and local times', () => {
    expect([5.25, 45, 720, 7200, 12_000, 187_200].map(durationText)).toEqual([
      '5.3 s',
      '45 s',
      '12 min',
      '2 h',
      '3 h 20 min',
      '2 d 4 h',
    ]);
    expect(createLocalFormat('Europe/Berlin').span('2026-05-04T22:30:00Z', '2026-05-05T04:00:15Z')).toMatch(
      /^Tue 2026-05-05 00:30 to 06:00:15 /,
    );
  });
});
