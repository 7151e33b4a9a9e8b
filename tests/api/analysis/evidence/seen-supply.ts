import type { KnownSoFar } from '../../../../api/analysis/evidence/known-so-far.ts';
import type { AnalysisSite } from '../../../../api/analysis/findings.ts';
import type { LowPeriod } from '../../../../api/analysis/supply/low-supply.ts';
import { summariseSags } from '../../../../api/analysis/supply/sag-summary.ts';
import type { WindowJudgement } from '../../../../api/analysis/supply/sags.ts';
import type { SupplyFindings } from '../../../../api/analysis/supply/supply-findings.ts';
import { compareWeekends } from '../../../../api/analysis/supply/weekend-comparison.ts';
import { sensorBudget } from '../../../../api/analysis/uncertainty/sensor-budget.ts';
import { DEFAULT_THRESHOLDS } from '../../../../collector/model/site.ts';

const DAY_MS = 86_400_000;
/** Monday 2026-01-05, 00:00 UTC, which London shares in winter. */
export const MONDAY_MS = Date.parse('2026-01-05T00:00:00Z');

/** What a log from Monday 00:00 on showed, a letter a day: S a sag, - none, ? can't be told. */
export interface SeenSupply {
  readonly mornings: string;
  readonly evenings?: string;
  /** What middays showed, a letter a day; none where left out. */
  readonly middays?: string;
  readonly lowestBar?: number;
  readonly lowSupply?: readonly Partial<LowPeriod>[];
  readonly accuracyBar?: number | undefined;
  readonly calibratedBar?: number;
  readonly thresholdBar?: number;
}

const STATES = { S: 'present', '-': 'absent', '?': 'unknown' } as const;

function judgements(days: string, window: 'morning' | 'evening', middays: string): WindowJudgement[] {
  return [...days].map((letter, day) => {
    const midnightMs = MONDAY_MS + day * DAY_MS;
    const fromMs = midnightMs + (window === 'morning' ? 5 : 17) * 3_600_000;
    const place = {
      day: new Date(midnightMs).toISOString().slice(0, 10),
      weekday: (day % 7) + 1,
      window,
      windowStartMs: fromMs,
      midday: STATES[(middays[day] ?? '-') as keyof typeof STATES],
    };
    if (letter === '?') return { ...place, state: 'unknown', reason: 'a gap' };
    const depth = { depthBar: letter === 'S' ? 0.6 + day / 100 : 0.05 + day / 1000, depthSdBar: 0.01 };
    return letter === 'S'
      ? { ...place, ...depth, state: 'present', startMs: fromMs + 5_400_000, endMs: fromMs + 10_800_000 }
      : { ...place, ...depth, state: 'absent' };
  });
}

export function seenSupply(seen: SeenSupply): KnownSoFar {
  const { mornings, evenings = '-'.repeat(mornings.length), middays = '', lowestBar = 2 } = seen;
  const thresholdBar = seen.thresholdBar ?? 0.69;
  const site: AnalysisSite = {
    timeZone: 'Europe/London',
    sensor: {
      position: 'incoming',
      rangeBar: [0, 10],
      accuracyBar: 'accuracyBar' in seen ? seen.accuracyBar : 0.1,
      ...(seen.calibratedBar === undefined ? {} : { calibrationStandardUncertaintyBar: seen.calibratedBar }),
      heightAboveSupplyPointM: 0,
    },
    hasFlowMeter: false,
    thresholds: { ...DEFAULT_THRESHOLDS, lowSupplyBar: thresholdBar },
  };
  const sags = [...judgements(mornings, 'morning', middays), ...judgements(evenings, 'evening', middays)].sort(
    (a, b) => a.windowStartMs - b.windowStartMs,
  );
  const lowSupply = (seen.lowSupply ?? []).map((period, i) => ({
    startMs: MONDAY_MS + i * DAY_MS + 7 * 3_600_000,
    endMs: MONDAY_MS + i * DAY_MS + 8 * 3_600_000,
    minBar: lowestBar,
    lowestMs: MONDAY_MS + i * DAY_MS + 7.5 * 3_600_000,
    meanBar: lowestBar,
    certain: false,
    certainForQualifying: false,
    belowFraction: 1,
    seenFraction: 1,
    qualifying: false,
    standardUncertaintyBar: 0.06,
    ...period,
  }));
  const days = Math.max(mornings.length, evenings.length);
  const standing = new Float64Array((days * DAY_MS) / 60_000).fill(2.4);
  standing[1] = lowestBar;
  const found: SupplyFindings = {
    standing: {
      startMs: MONDAY_MS,
      stepMs: 60_000,
      bar: standing,
      sdBar: new Float32Array(standing.length),
      interpolated: new Uint8Array(standing.length),
    },
    draws: [],
    sags,
    lowSupply,
    thresholdAtLoggerBar: thresholdBar,
    supplyChanges: [],
    propertyChange: undefined,
    offsetSteps: [],
    floor: { dropBar: 0.03, durationS: 5 },
    curve: undefined,
  };
  const summaries = summariseSags(sags, site.timeZone, site.thresholds.sagMinDepthBar);
  return {
    found,
    site,
    summaries,
    comparison: compareWeekends(summaries),
    budget: sensorBudget(site, 0.005, 0),
    span: { startMs: MONDAY_MS, endMs: MONDAY_MS + days * DAY_MS },
    intervalS: 1,
    unmoved: undefined,
  };
}
