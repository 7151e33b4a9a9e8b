import type { FindingsDocument, LowSupply } from '../../../api/analysis/findings.ts';
import type { LetterInput } from '../../../api/letter/letter-input.ts';
import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { instantOfLocal, localDays } from '../../../collector/model/local-time.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';

export const SAMPLE_ZONE = 'Europe/London';
const MINUTE = 60_000;

/**
 * An invented house whose standing pressure falls on every weekday morning: drawn by hand, not by the analysis, so that
 * what the letter says can be held against it. The span holds the day of 25 hours.
 */
export function sampleLetter(days: number, siteName = '12 Sample Row'): LetterInput {
  const fromMs = instantOfLocal('2026-10-19', 0, 0, SAMPLE_ZONE);
  const local = localDays(fromMs, fromMs + (days - 1) * 86_400_000 + 3_600_000, SAMPLE_ZONE);
  const toMs = local.at(-1)!.endMs;
  const bar: (number | null)[] = [];
  const lowSupply: LowSupply[] = [];
  for (const day of local) {
    const weekday = day.weekday <= 5;
    const start = instantOfLocal(day.date, 7, 5, SAMPLE_ZONE);
    const end = instantOfLocal(day.date, 8, 40, SAMPLE_ZONE);
    for (let at = day.startMs; at < day.endMs; at += MINUTE) {
      const inMorning = weekday && at >= start && at < end;
      bar.push(inMorning ? 0.55 : 1.5 + 0.05 * Math.sin(at / 3e6));
    }
    if (weekday)
      lowSupply.push({
        start: formatRfc3339(start),
        end: formatRfc3339(end),
        minBar: 0.55,
        lowestAt: formatRfc3339(start),
        meanBar: 0.55,
        thresholdBar: 0.7,
        certainty: 'certain',
        belowFraction: 1,
        seenFraction: 0.93,
        qualifying: true,
        standardUncertaintyBar: 0.03,
      });
  }
  const findings: FindingsDocument = {
    series: {
      start: formatRfc3339(fromMs),
      end: formatRfc3339(toMs),
      samples: bar.length * 60,
      intervalS: 1,
      timeZone: SAMPLE_ZONE,
      position: 'incoming',
    },
    standing: { start: formatRfc3339(fromMs), stepS: 60, bar, sdBar: bar.map(() => 0.01) },
    draws: [],
    sags: [],
    lowSupply,
    pumpStarts: [],
    cycling: [],
    weakInlet: [],
    faults: [{ kind: 'gap', start: formatRfc3339(fromMs), end: formatRfc3339(fromMs + 120_000) }],
    changes: [],
    coverage: { expected: bar.length * 60, received: bar.length * 60 - 120, validFraction: 0.9986, days: [] },
    sensorUBar: 0.061,
    sensorBudget: [{ source: 'calibration', standardUncertaintyBar: 0.03 }],
    thresholds: DEFAULT_THRESHOLDS,
    qualifying: {
      occasions: lowSupply.map((_, index) => index),
      pairs: [[0, 1]],
      interpretation: 'two occasions of an hour whose starts lie at most 28 × 24 h apart',
    },
    sagSummary: [],
    evidence: {
      statements: [
        {
          text: 'On every weekday morning the street fell below 0.7 bar, usually from 07:05 to 08:40.',
          certainty: 'certain',
        },
      ],
      open: ['Read the meter with the stop tap shut, to rule out a leak inside the boundary.'],
    },
    limits: ['A constant leak inside the boundary cannot be told from pressure alone.'],
    versions: { analysis: '1' },
  };
  return {
    siteName,
    invented: true,
    timeZone: SAMPLE_ZONE,
    fromMs,
    toMs,
    writtenMs: toMs,
    loggerId: 'front-hall',
    position: 'incoming',
    heightAboveSupplyPointM: 0.6,
    channelSettings: [
      {
        loggerId: 'front-hall',
        channel: 'pressure',
        fromMs,
        unit: 'V',
        rangeBar: [0, 10],
        endPoints: [
          { raw: 0.5, bar: 0 },
          { raw: 4.5, bar: 10 },
        ],
      },
    ],
    calibrations: [
      {
        loggerId: 'front-hall',
        channel: 'pressure',
        fromMs,
        gain: 0.99,
        offset: -0.02,
        standardUncertainty: 0.03,
        note: 'Test gauge at the kitchen tap.',
      },
    ],
    findings,
    envelope: undefined,
    programVersion: '0.1.0',
  };
}
