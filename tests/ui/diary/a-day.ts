import type { FindingsDocument } from '../../../api/analysis/findings.ts';

/** An empty findings document over a span, for tests that fill in what they are about. */
export function findingsOver(start: string, end: string, parts: Partial<FindingsDocument> = {}): FindingsDocument {
  return {
    series: { start, end, samples: 1, intervalS: 1, timeZone: 'Europe/London', position: 'incoming' },
    draws: [],
    sags: [],
    lowSupply: [],
    pumpStarts: [],
    cycling: [],
    weakInlet: [],
    faults: [],
    changes: [],
    coverage: { expected: 1, received: 1, validFraction: 1, days: [] },
    sensorUBar: 0.12,
    sensorBudget: [],
    thresholds: { lowSupplyBar: 0.7, weakInletBar: 0.3, sagMinDepthBar: 0.3 },
    qualifying: { occasions: [], pairs: [], interpretation: '' },
    sagSummary: [],
    evidence: { statements: [], open: [] },
    limits: [],
    versions: { analysis: 'test' },
    ...parts,
  };
}

export function wholeDay(day: string, share = 1) {
  return { day, expected: 86_400, received: 86_400 * share, valid: 86_400 * share };
}

export function lowPeriod(start: string, end: string, certainty: 'certain' | 'possible' = 'certain') {
  return {
    start,
    end,
    minBar: 0.41,
    lowestAt: start,
    meanBar: 0.5,
    thresholdBar: 0.7,
    certainty,
    belowFraction: 1,
    seenFraction: 0.9,
    qualifying: true,
    standardUncertaintyBar: 0.06,
  };
}
