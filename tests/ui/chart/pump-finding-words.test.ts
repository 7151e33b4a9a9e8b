import { describe, expect, it } from 'vitest';
import { type FindingsDocument, PUMP_STATES, type PumpState } from '../../../api/analysis/findings.ts';
import { findingCounts, sameCounts } from '../../../api/contract/finding-counts.ts';
import { accountsIn, findingAccounts } from '../../../ui/chart/finding-words.ts';
import { dayEntries } from '../../../ui/diary/day-entries.ts';
import { dayWords } from '../../../ui/diary/day-words.ts';
import { createSiteTime } from '../../../ui/site-time.ts';
import { findingsOver } from '../diary/a-day.ts';

const time = createSiteTime('Europe/London');
const SPAN = ['2026-05-03T23:00:00Z', '2026-05-05T23:00:00Z'] as const;

function found(parts: Partial<FindingsDocument>): FindingsDocument {
  const whole = findingsOver(...SPAN, parts);
  const day = { expected: 86_400, received: 86_400, valid: 86_400 };
  return {
    ...whole,
    series: { ...whole.series, position: 'pump_outlet' },
    coverage: { ...whole.coverage, days: ['2026-05-04', '2026-05-05'].map((date) => ({ day: date, ...day })) },
  };
}

function state(kind: PumpState['kind'], more: Partial<PumpState> = {}): PumpState {
  return {
    kind,
    start: '2026-05-04T06:05:00Z',
    end: '2026-05-04T06:40:00Z',
    value: 1.5,
    reason: 'What was seen.',
    certainty: 'possible',
    cutInBar: 2,
    cutOutBar: 3.5,
    rule: 'A run of at least 20 min.',
    nextSteps: ['Measure the flow.', 'Isolate it first.'],
    ...more,
  };
}

const plain = (text: string): string => text.replaceAll('\u00a0', ' ');

describe('a pump’s states on the page', () => {
  it.each(PUMP_STATES)('%s opens among the findings with rule, figures and what to do next', (kind) => {
    const [account] = findingAccounts(found({ pumpStates: [state(kind)] }), time);
    expect(plain(account!.title)).toMatch(/^The (pump|pressure) .*4 May 2026, 07:05–07:40: /);
    expect(account).toMatchObject({ rule: 'A run of at least 20 min.', certainty: 'possible' });
    const lines = account!.figures.map(([name, value]) => `${name}: ${plain(value)}`);
    expect(lines).toContain('Lasted: 35 min');
    expect(lines).toContain('Cut-in and cut-out: 2.00 bar and 3.50 bar');
    expect(lines.slice(-2)).toEqual(['What to do next: Measure the flow.', 'With care: Isolate it first.']);
    // Its samples are those of its span.
    expect(account!.toMs - account!.fromMs).toBe(35 * 60_000);
    expect(accountsIn([account!], { fromMs: account!.toMs + 1, toMs: account!.toMs + 2 })).toEqual([]);
  });

  it('stand on their day, and a day with one is no quiet day', () => {
    const entries = dayEntries(
      found({ pumpStates: [state('runs_on'), state('no_rise', { certainty: 'certain' })] }),
      time,
    );
    expect(entries.map(({ quiet }) => quiet)).toEqual([true, false]);
    expect(dayWords(entries[1]!, 'pump_outlet', time).map(plain)).toEqual([
      'The pump ran without lifting the pressure from 07:05 to 07:40; the pump ran on without reaching its cut-out from 07:05 to 07:40 (possible).',
    ]);
  });

  it('of many tells how many, the gravest first', () => {
    const many = PUMP_STATES.flatMap((kind) => [0, 1, 2].map(() => state(kind)));
    const [, day] = dayEntries(found({ pumpStates: many }), time);
    const [text] = dayWords(day!, 'pump_outlet', time).map(plain);
    expect(text).toMatch(/^The pump ran without lifting the pressure three times \(possible\); the pump did not stop/);
    expect(text).toMatch(/and four more states of the pump\.$/);
  });
});

describe('a day with much to tell of a pump', () => {
  it('never drops what is missing from the log', () => {
    const [, day] = dayEntries(
      found({
        pumpStates: [state('runs_on')],
        pumpStarts: [{ start: '2026-05-04T06:05:00Z' }],
        weakInlet: [{ start: '2026-05-04T06:05:00Z', end: '2026-05-04T06:06:00Z', minBar: 0.1 }],
        changes: [{ at: '2026-05-04T10:00:00Z', kind: 'booster', fromBar: 1, toBar: 3 }],
        faults: [{ kind: 'gap', start: '2026-05-04T13:00:00Z', end: '2026-05-04T16:00:00Z' }],
      }),
      time,
    );
    const text = dayWords(day!, 'pump_outlet', time).map(plain);
    expect(text).toHaveLength(3);
    expect(text.at(-1)).toBe('From 14:00 to 17:00 nothing was received.');
  });
});

describe('what holds of a pump as a whole', () => {
  const parts: Partial<FindingsDocument> = {
    pumpTrends: [
      {
        figure: 'filling',
        firstDay: '2026-04-04',
        lastDay: '2026-05-04',
        days: 30,
        perMonth: -0.12,
        p: 0.0004,
        rule: 'By days.',
      },
    ],
    pumpLitres: {
      usable: { litres: 4, interval: [3.8, 4.2], from: 'bucket', runs: 1 },
      loss: { lpm: 0.21, interval: [0.2, 0.22], rests: 40 },
    },
    pumpCurve: {
      points: 40,
      headShare: 0.72,
      interval: [0.7, 0.74],
      verdict: 'below_its_curve',
      rule: 'At a steady flow.',
    },
    fitting: {
      at: '2026-05-04T12:00:00Z',
      from: 'entered',
      outlets: [
        {
          quantity: 'flowLpm',
          pairs: [{ outlet: 'shower', before: 4, after: 8 }],
          gain: 4,
          answer: 'too few readings',
        },
      ],
      logged: [{ figure: 'kept95', daysBefore: 1, daysAfter: 1, fromBar: 1, toBar: 2, answer: 'too few readings' }],
    },
  };

  it('opens with slope and chance, litres, curve, and every outlet’s pair', () => {
    const accounts = findingAccounts(found(parts), time);
    const lines = accounts
      .flatMap(({ title, figures }) => [title, ...figures.map(([name, value]) => `${name}: ${value}`)])
      .map(plain);
    expect(lines).toContain('The pump fills its vessel more slowly: −12 % a month');
    expect(lines).toContain(
      'Mann–Kendall test, one-sided: p = 0.0004: the chance of so steady a trend in days that are alike',
    );
    expect(lines).toContain('Usable between cut-out and cut-in: 4 l (95 %: 3.8 to 4.2)');
    expect(lines).toContain('Head seen over head of the curve: 72 % (95 %: 70 % to 74 %)');
    expect(lines).toContain('shower, flow: 4.0 l/min before, 8.0 l/min after');
    expect(lines).toContain('All together, flow: 4.0 l/min: too few readings');
    expect(lines).toContain(
      'Logged pressure kept for 95 % of a day: 1.00 bar before, 2.00 bar after: too few readings',
    );
  });

  it('is counted for open pages', () => {
    const counts = findingCounts(found({ ...parts, pumpStates: [state('runs_on')] }));
    expect(counts).toMatchObject({ pumpStates: 1, pumpTrends: 1, pumpLitres: 2, pumpCurve: 1 });
    expect(sameCounts(counts, findingCounts(found(parts)))).toBe(false);
  });
});

describe('the causes of cycling on the page', () => {
  it('open with the figures that separate them, how sure it is, and the rule', () => {
    const [account] = findingAccounts(
      found({
        cycling: [
          {
            start: '2026-05-04T01:00:00Z',
            end: '2026-05-04T05:00:00Z',
            kind: 'no_demand',
            starts: 29,
            startsPerHour: 7.25,
            causes: ['leak'],
            ranking: {
              rule: 'Odds.',
              figures: [
                {
                  figure: 'falls_towards',
                  value: 0.1283,
                  sd: 0.2167,
                  unit: 'bar',
                  name: 'Falls towards',
                  tells: 'near 0 a leak',
                },
              ],
              odds: { checkValveToLeak: 0.0203, needed: 20, most: 90, probability: 0.98 },
            },
          },
        ],
      }),
      time,
    );
    const lines = account!.figures.map(([name, value]) => `${name}: ${plain(value)}`);
    expect(lines).toContain('Falls towards: 0.128 ±0.433 bar; near 0 a leak');
    expect(lines).toContain('How sure, of leak and check valve: 98.0 % for the first named; 20 to 1 (95.2 %) is asked');
    expect(account!.rule).toMatch(/at least four starts.*Its causes: Odds\./i);
  });
});

describe('what a pump does to its inlet', () => {
  const pull = {
    runs: 5,
    weakRuns: 1,
    lowestBar: 0.12,
    medianPullBar: 0.31,
    worstPullBar: 0.52,
    hours: [
      { hour: 7, runs: 4, weakRuns: 1, lowestBar: 0.12, medianPullBar: 0.33, worstPullBar: 0.52 },
      { hour: 23, runs: 1, weakRuns: 0, lowestBar: 0.7, medianPullBar: 0.2, worstPullBar: 0.2 },
    ],
  };
  const weak = {
    start: '2026-05-04T06:05:00Z',
    end: '2026-05-04T06:06:00Z',
    minBar: 0.12,
    pullBar: 0.52,
    standingBar: 0.64,
  };
  const inlet = (parts: Partial<FindingsDocument>) => {
    const whole = found(parts);
    return { ...whole, series: { ...whole.series, position: 'pump_inlet' as const } };
  };

  it('opens to how far it pulls the main below its standing pressure, in all and hour by hour', () => {
    const [account] = findingAccounts(inlet({ inletPull: pull }), time).filter(({ key }) => key === 'inlet-pull');
    expect(plain(account!.title)).toBe(
      'While it runs the pump pulls the main 0.31 bar below its standing pressure, 0.52 bar at most',
    );
    const lines = account!.figures.map(([name, value]) => plain(`${name}: ${value}`));
    expect(lines).toContain('Runs: 5, 1 of them weak');
    expect(lines).toContain('07:00–08:00: 4 runs, 1 weak: 0.33 bar below (median), 0.52 bar at most; lowest 0.12 bar');
    expect(lines).toContain('23:00–24:00: 1 run: 0.20 bar below; lowest 0.70 bar');
    expect(account!.rule).toContain('standing pressure of that moment');
  });

  it('tells neighbouring hours together where they are alike', () => {
    const hour = (at: number, medianPullBar: number, weakRuns = 0) => ({
      hour: at,
      runs: 10,
      weakRuns,
      lowestBar: 0.6 - at / 100,
      medianPullBar,
      worstPullBar: 0.4,
    });
    const hours = [hour(0, 0.3), hour(1, 0.31), hour(2, 0.315), hour(3, 0.33), hour(4, 0.33, 2), hour(6, 0.33, 1)];
    const [account] = findingAccounts(inlet({ inletPull: { ...pull, hours } }), time);
    expect(account!.figures.slice(-4).map(([name, value]) => plain(`${name} ${value}`))).toEqual([
      '00:00–03:00 30 runs: 0.30 to 0.32 bar below (each hour’s median), 0.40 bar at most; lowest 0.58 bar',
      '03:00–04:00 10 runs: 0.33 bar below (median), 0.40 bar at most; lowest 0.57 bar',
      '04:00–05:00 10 runs, 2 weak: 0.33 bar below (median), 0.40 bar at most; lowest 0.56 bar',
      '06:00–07:00 10 runs, 1 weak: 0.33 bar below (median), 0.40 bar at most; lowest 0.54 bar',
    ]);
  });

  it('says what isn’t known where the inlet was read in runs only', () => {
    const { medianPullBar: _middle, worstPullBar: _worst, ...unknown } = pull;
    const some = {
      ...unknown,
      hours: unknown.hours.map(({ hour, runs }) => ({ hour, runs, weakRuns: 0, lowestBar: 0.5 })),
    };
    const [account] = findingAccounts(inlet({ inletPull: some }), time).filter(({ key }) => key === 'inlet-pull');
    expect(plain(account!.title)).toBe('The pump’s inlet while it ran: 0.12 bar at the lowest');
    expect(JSON.stringify(account!.figures)).toContain('can’t be told');
  });

  it('stands beside each weak inlet and on its day, with what the sensor can’t read', () => {
    const findings = inlet({ weakInlet: [{ ...weak, atRangeEnd: true }] });
    const account = findingAccounts(findings, time).find(({ title }) => title.startsWith('Weak inlet'));
    const lines = account!.figures.map(([name, value]) => plain(`${name}: ${value}`));
    expect(lines).toContain('Standing pressure at that moment: 0.64 bar');
    expect(lines).toContain('Pulled below it: 0.52 bar');
    expect(lines.join()).toContain('the truth may be lower still');
    const [, day] = dayEntries(findings, time);
    expect(plain(dayWords(day!, 'pump_inlet', time)[0]!)).toBe(
      'The pump’s inlet was weak in one run, at the lowest 0.12 bar, pulled 0.52 bar below the main’s standing pressure at most.',
    );
  });
});
