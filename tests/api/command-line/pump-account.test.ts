import { describe, expect, it } from 'vitest';
import type { Cycling, FindingsDocument, PumpStart, PumpState } from '../../../api/analysis/findings.ts';
import { createLocalFormat } from '../../../api/command-line/local-format.ts';
import { pumpAccount } from '../../../api/command-line/pump-account.ts';
import { findingsOver } from '../../ui/diary/a-day.ts';

function account(parts: Partial<FindingsDocument>, series: Partial<FindingsDocument['series']> = {}): string {
  const whole = findingsOver('2026-05-03T23:00:00Z', '2026-05-06T23:00:00Z', parts);
  const found = { ...whole, series: { ...whole.series, position: 'pump_outlet' as const, ...series } };
  return pumpAccount(found, createLocalFormat(found.series.timeZone)).join('\n');
}

function starts(count: number, onDemand?: boolean): PumpStart[] {
  return Array.from({ length: count }, (_, k) => ({
    start: new Date(Date.parse('2026-05-04T08:00:00Z') + k * 600_000).toISOString(),
    onS: 12,
    ...(onDemand === undefined ? {} : { onDemand }),
  }));
}

const CAUTION = 'Isolate it first.';

function episode(k: number, cause: Cycling['causes'][number]): Cycling {
  const startMs = Date.parse('2026-05-04T00:10:00Z') + k * 3_600_000;
  return {
    start: new Date(startMs).toISOString(),
    end: new Date(startMs + 1_800_000).toISOString(),
    kind: 'no_demand',
    starts: 5 + k,
    startsPerHour: 8,
    causes: [cause],
    reasons: [`${5 + k} starts, 8.0 an hour.`],
    ranking: {
      rule: 'From 20 to 1 on one is named.',
      figures: [
        {
          figure: 'band',
          value: 1.054,
          unit: 'bar',
          limit: 0.85,
          name: 'Cut-out less cut-in',
          tells: 'under 0.85 narrow',
        },
      ],
    },
    nextSteps: [`Look for ${cause}.`, CAUTION],
  };
}

describe('a pump’s account in words', () => {
  it.each([
    ['a slow rate', { intervalS: 60 }, /can't be told of them at a reading every 60 s/],
    [
      'before the pump',
      { position: 'pump_inlet', intervalS: 1 },
      /can't be told of them by the pressure before a pump/,
    ],
    ['no pressure', { intervalS: 1 }, /can't be told of them: the pressure meanwhile is missing/],
  ] as const)('says that a start’s demand can’t be told (%s), and never counts it as demand', (_why, series, words) => {
    const text = account({ pumpStarts: starts(7) }, series);
    expect(text).toMatch(/^Pump\n7 starts; whether the household drew/);
    expect(text).toMatch(words);
    expect(text).not.toMatch(/\d+ of them without the household drawing/);
  });

  it('counts what is marked, and what is not beside it', () => {
    const text = account({ pumpStarts: [...starts(3, true), ...starts(2, false), ...starts(1)] });
    expect(text).toContain('6 starts; 2 of them without the household drawing, 3 while it drew; whether');
    expect(text).toContain('be told of 1');
    expect(text).toContain('In the middle: on for 12 s.');
  });

  it('tells many episodes by day and cause, with the figures of one and each step once', () => {
    const cycling = [
      ...Array.from({ length: 60 }, (_, k) => episode(k, 'leak')),
      ...Array.from({ length: 3 }, (_, k) => episode(k + 62, 'check_valve')),
    ];
    const day = {
      day: '2026-05-04',
      kinds: ['no_demand' as const],
      episodes: 23,
      starts: 391,
      causes: ['leak' as const],
    };
    const text = account({ cycling, cyclingDays: [{ ...day, mostStartsPerHour: 31 }] });
    expect(text.split('\n').length).toBeLessThan(30);
    expect(text).toMatch(
      /Mon 2026-05-04: cycling without demand, 23 times between 01:10 and 23:40, 368 starts, 31 in the/,
    );
    expect(text.match(/Look for leak\./g)).toHaveLength(1);
    expect(text.match(/Isolate it first\./g)).toHaveLength(1);
    expect(text.trimEnd().endsWith(CAUTION)).toBe(true);
    // The figures are those of the episode with the most starts, its rule beside them.
    expect(text).toContain('64 starts, 8.0 an hour.');
    expect(text).toContain('Cut-out less cut-in: 1.05 bar (under 0.85 narrow)');
    expect(text.match(/The rule: From 20 to 1/g)).toHaveLength(2);
  });

  it('shows every state with times, figures, rule and what to do, no more than a screenful of each', () => {
    const state = (k: number, kind: PumpState['kind'], certainty?: 'possible'): PumpState => ({
      kind,
      start: new Date(Date.parse('2026-05-04T08:00:00Z') + k * 3_600_000).toISOString(),
      end: new Date(Date.parse('2026-05-04T08:30:00Z') + k * 3_600_000).toISOString(),
      value: 1.1,
      reason: 'The pump ran for 30 min at 1.10 bar.',
      rule: 'A run of 20 min.',
      nextSteps: ['Measure the flow.', CAUTION],
      ...(certainty ? { certainty } : {}),
    });
    const text = account({
      pumpStates: [state(0, 'no_rise'), ...Array.from({ length: 20 }, (_, k) => state(k + 1, 'runs_on', 'possible'))],
      pumpTrends: [
        { figure: 'filling', firstDay: '2026-04-04', lastDay: '2026-05-04', days: 30, perMonth: -0.12, p: 0.0004 },
      ],
      pumpCurve: { points: 40, headShare: 0.72, interval: [0.7, 0.74], verdict: 'below_its_curve' },
    });
    expect(text).toContain('Runs without lifting the pressure: 1 time.');
    expect(text).toContain('- Mon 2026-05-04 09:00 to 09:30 BST: The pump ran for 30 min at 1.10 bar.');
    expect(text).toContain('Runs on without reaching its cut-out (possible): 20 times.');
    expect(text).toContain('- and 8 more, all of them with --json');
    expect(text).toContain('changes by −12 % of its median a month (Theil–Sen slope over 30 days');
    expect(text).toContain('Mann–Kendall p = 0.0004, one-sided');
    expect(text).toContain(
      'Head against its curve at the same flow: 72 % (95 %: 70 % to 74 %), 40 readings: below its curve.',
    );
    expect(text.match(/Measure the flow\./g)).toHaveLength(1);
  });
});
