import { formatRfc3339 } from '../../collector/model/instant.ts';
import { seriesLimits } from './evidence/limits.ts';
import { nothingKnown } from './evidence/nothing-known.ts';
import { openQuestions } from './evidence/open-questions.ts';
import { supplyStatements } from './evidence/statements.ts';
import type { AnalysisSite, FindingsDocument } from './findings.ts';
import { supplyPattern } from './pattern/supply-pattern.ts';
import { fittingFindings } from './pump/fitting-findings.ts';
import { fittingStatements } from './pump/fitting-statements.ts';
import type { PumpResult } from './pump/pump-findings.ts';
import type { CleanSeries } from './quality/clean-series.ts';
import { coverage } from './quality/coverage.ts';
import { faultsOfDocument } from './quality/marked-fault.ts';
import { offsetFaults } from './quality/offset-step.ts';
import { longestUnmoved } from './quality/unmoved.ts';
import { qualifyingPairs } from './supply/qualifying.ts';
import { summariseSags } from './supply/sag-summary.ts';
import { servicePipeOfDocument, servicePipeStatements } from './supply/service-pipe.ts';
import type { SupplyFindings } from './supply/supply-findings.ts';
import { compareWeekends } from './supply/weekend-comparison.ts';
import {
  changesOfDocument,
  drawsOfDocument,
  lowSupplyOfDocument,
  sagsOfDocument,
  standingOfDocument,
} from './supply-document.ts';
import type { SensorBudget } from './uncertainty/sensor-budget.ts';
import { ANALYSIS_VERSION } from './version.ts';

const NO_QUALIFYING = qualifyingPairs([]);

/** The document of one logger's findings, from what its parts found. */
export function findingsDocument(
  series: CleanSeries,
  site: AnalysisSite,
  budget: SensorBudget,
  supply: SupplyFindings | undefined,
  pump: PumpResult | undefined,
): FindingsDocument {
  const { timeMs, intervalS } = series;
  const intervalMs = intervalS * 1000;
  const samples = timeMs.length;
  const startMs = samples > 0 ? timeMs[0]! : 0;
  const endMs = samples > 0 ? timeMs[samples - 1]! + intervalMs : 0;
  const metered = site.hasFlowMeter && site.meters !== 'pump' && series.flowLpm !== undefined;
  const sagSummary = supply ? summariseSags(supply.sags, site.timeZone, site.thresholds.sagMinDepthBar) : [];
  const sagComparison = compareWeekends(sagSummary);
  const known = supply && {
    found: supply,
    summaries: sagSummary,
    comparison: sagComparison,
    site,
    budget,
    span: { startMs, endMs },
    intervalS,
    unmoved: longestUnmoved(timeMs, series.pressureBar, intervalMs),
  };
  const questions = known && openQuestions(known);
  const nothing = nothingKnown(series, site);
  const incoming = site.sensor.position === 'incoming';
  // What the pump's own channel and the street's steps both show is one change: the pump side knows a booster.
  const changes = [...(supply ? changesOfDocument(supply, startMs, endMs, intervalS) : []), ...(pump?.changes ?? [])];
  const fitting = fittingFindings(series, site, changes);
  const draws = incoming && supply ? drawsOfDocument(supply.draws) : [];
  return {
    series: {
      start: samples > 0 ? formatRfc3339(startMs) : null,
      end: samples > 0 ? formatRfc3339(endMs) : null,
      samples,
      intervalS: samples > 1 ? intervalS : (site.intervalS ?? null),
      timeZone: site.timeZone,
      position: site.sensor.position,
    },
    ...(supply ? { standing: standingOfDocument(supply.standing) } : {}),
    draws,
    sags: supply ? sagsOfDocument(supply.sags, site.thresholds.sagMinDepthBar) : [],
    lowSupply: supply ? lowSupplyOfDocument(supply.lowSupply, supply.thresholdAtLoggerBar) : [],
    pumpStarts: pump?.pumpStarts ?? [],
    cycling: pump?.cycling ?? [],
    ...(pump && pump.cyclingDays.length > 0 ? { cyclingDays: pump.cyclingDays } : {}),
    weakInlet: pump?.weakInlet ?? [],
    ...(pump?.inletPull ? { inletPull: pump.inletPull } : {}),
    ...(pump && pump.states.length > 0 ? { pumpStates: pump.states } : {}),
    ...(pump && pump.trends.length > 0 ? { pumpTrends: pump.trends } : {}),
    ...(pump?.litres ? { pumpLitres: pump.litres } : {}),
    ...(pump?.curve ? { pumpCurve: pump.curve } : {}),
    ...(fitting ? { fitting } : {}),
    faults: faultsOfDocument([
      ...series.faults,
      ...(pump?.faults ?? []),
      ...(supply ? offsetFaults(supply.offsetSteps) : []),
    ]),
    changes: changes.sort(byTime),
    coverage: coverage(timeMs, series.pressureBar, intervalMs, site.timeZone, site.rawErased),
    sensorUBar: budget.expandedBar,
    sensorBudget: budget.entries,
    noiseBar: series.noiseBar,
    quantumBar: series.quantumBar,
    ...(supply && incoming ? { detectionFloor: { ...supply.floor, note: floorNote(intervalS) } } : {}),
    ...(incoming && supply?.curve ? { servicePipe: servicePipeOfDocument(supply.curve) } : {}),
    thresholds: site.thresholds,
    qualifying: supply ? qualifyingPairs(supply.lowSupply) : NO_QUALIFYING,
    sagSummary,
    ...(sagComparison.length > 0 ? { sagComparison } : {}),
    ...(supply
      ? {
          pattern: supplyPattern(
            supply.standing,
            endMs,
            site.timeZone,
            supply.thresholdAtLoggerBar,
            budget.sharedBar,
            supply.sags,
          ),
        }
      : {}),
    evidence: {
      statements: [
        ...(nothing?.statements ?? []),
        ...(known ? supplyStatements(known) : []),
        ...(incoming && supply?.curve ? servicePipeStatements(supply.curve) : []),
        ...(pump?.statements ?? []),
        ...fittingStatements(fitting, site),
      ],
      open: [...(nothing?.open ?? []), ...(questions?.open ?? []), ...(pump?.open ?? [])],
      ...(questions ? { moreDays: questions.moreDays, logging: questions.logging } : {}),
      ...(nothing?.logging ? { logging: nothing.logging } : {}),
    },
    limits: [...seriesLimits(site, intervalS, incoming ? supply?.floor : undefined, metered), ...(pump?.limits ?? [])],
    versions: { analysis: ANALYSIS_VERSION },
  };
}

function floorNote(intervalS: number): string {
  return intervalS > 15
    ? 'At this rate draws of one or two samples can’t be counted; what is reported are long draws only.'
    : 'Shorter or shallower draws are not reported; they are kept apart from the supply where they show.';
}

function byTime(a: { readonly at: string }, b: { readonly at: string }): number {
  return a.at < b.at ? -1 : a.at > b.at ? 1 : 0;
}
