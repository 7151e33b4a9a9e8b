import {
  type AnalysisWatch,
  accountAsOfNow,
  findingsAsOfNow,
  needsPump,
  underLaw,
  watchCleaned,
  withPumpHabits,
  withSupply,
} from './analysis-watch.ts';
import type { AnalysisColumns, AnalysisSite, FindingsDocument } from './findings.ts';
import { pumpParameters } from './pump/pump-findings.ts';
import { orderColumns } from './quality/clean-series.ts';
import { estimateCleaning, intervalOf } from './quality/cleaning-parameters.ts';
import { estimateSupplyParameters, withAccount } from './supply/estimate-parameters.ts';
import { USUAL_TAP_LAW } from './supply/tap-law.ts';
import { fitTapLaw } from './supply/tap-law-fit.ts';

/**
 * The findings document of one logger's columns: quality, then supply and household apart, then what follows from each.
 * Pure and linear in the rows; a week at 1 Hz takes a few passes over its columns. An empty log gives an empty document.
 * It is a watch over the whole log in one step, under the log's own parameters.
 * @param columns rows in order of arrival, pressure in bar, flow in l/min
 */
export function analyse(columns: AnalysisColumns, site: AnalysisSite): FindingsDocument {
  return findingsAsOfNow(watchOver(columns, site, false));
}

/** As `analyse`, for columns that nobody needs afterwards: their pressures are overwritten, which spares their memory. */
export function analyseOnce(columns: AnalysisColumns, site: AnalysisSite): FindingsDocument {
  return findingsAsOfNow(watchOver(columns, site, true));
}

/** A watch that has seen the whole log; what comes after it may be watched under its parameters. */
export function watchOf(columns: AnalysisColumns, site: AnalysisSite): AnalysisWatch {
  return withPumpHabits(watchOver(columns, site, false));
}

function watchOver(columns: AnalysisColumns, site: AnalysisSite, mayOverwrite: boolean): AnalysisWatch {
  const intervalS = intervalOf(columns, site);
  const ordered = orderColumns(columns, intervalS);
  const cleaned = estimateCleaning(ordered.columns, intervalS, site, mayOverwrite);
  const { timeMs, flowLpm } = ordered.columns;
  const rows = { timeMs, pressureBar: cleaned.pressureBar, flowLpm };
  // Before a pump its runs are the draws: what the household takes meanwhile comes from the vessel as well.
  const beforePump = site.sensor.position === 'pump_inlet';
  // A meter on a pump's line doesn't see a tap that branches off before it.
  const seesDraws = site.hasFlowMeter && site.meters !== 'pump';
  const supply =
    site.sensor.position === 'pump_outlet'
      ? undefined
      : estimateSupplyParameters(rows, intervalS, cleaned.parameters, seesDraws && !beforePump);
  const pump = needsPump(columns, site)
    ? pumpParameters({ ...cleaned.parameters, timeMs, pressureBar: cleaned.pressureBar, flowLpm, site })
    : undefined;
  const watch = watchCleaned(site, { cleaning: cleaned.parameters, supply, pump }, columns, ordered, cleaned);
  if (!supply || beforePump) return watch;
  const parts = accountAsOfNow(watch);
  const told = withSupply(watch, withAccount(supply, parts));
  const law = supply.metered ? USUAL_TAP_LAW : fitTapLaw(parts.flatMap((part) => part.telling));
  return law === USUAL_TAP_LAW ? told : underLaw(told, law);
}
