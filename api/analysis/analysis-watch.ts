import type { AnalysisParameters } from './analysis-parameters.ts';
import type { AnalysisColumns, AnalysisSite, FindingsDocument } from './findings.ts';
import { findingsDocument } from './findings-document.ts';
import { appendColumns, beginColumns, columnsSoFar, type GrowingColumns, truncateColumns } from './growing-columns.ts';
import {
  beginGrowingPump,
  type GrowingPump,
  growPump,
  type PumpResult,
  pumpAsOfNow,
  withHabits,
} from './pump/pump-findings.ts';
import { followsOn, isInOrder } from './quality/arrival-runs.ts';
import { beginCleaning, type CleanRows, cleanedSoFar, cleanOn, unsettleFrom } from './quality/clean-rows.ts';
import {
  type CleanSeries,
  inOrderAlready,
  type OrderedColumns,
  orderColumns,
  seriesOf,
} from './quality/clean-series.ts';
import type { CleanedLog } from './quality/cleaning-parameters.ts';
import { markBelowRange } from './quality/suction.ts';
import type { SupplyRows } from './supply/account-window.ts';
import { withoutKnownDraws } from './supply/known-draws.ts';
import {
  type AccountPart,
  accountOn,
  beginAccount,
  partsAsOfNow,
  type SupplyAccount,
  unsettleAccount,
} from './supply/supply-account.ts';
import { type SupplyFindings, supplyFindings } from './supply/supply-findings.ts';
import type { SupplyParameters } from './supply/supply-parameters.ts';
import type { TapLaw } from './supply/tap-law.ts';
import { sensorBudget } from './uncertainty/sensor-budget.ts';

/** An analysis of a log that grows. Only the functions below look inside. */
export interface AnalysisWatch {
  readonly site: AnalysisSite;
  readonly parameters: AnalysisParameters;
  /** Rows in order of arrival. */
  readonly arrived: GrowingColumns;
  /** Whether every stamp so far follows on from the one before it. */
  ascending: boolean;
  /** The rows in order of time, one a stamp; of the first so many that arrived. */
  ordered: OrderedColumns;
  orderedCount: number;
  readonly clean: CleanRows;
  /** Undefined at a pump's outlet. */
  readonly account: SupplyAccount | undefined;
  /** Undefined where nothing tells of a pump. */
  pump: GrowingPump | undefined;
}

/** Begins to watch a log under the parameters of its last full analysis. */
export function beginAnalysis(site: AnalysisSite, parameters: AnalysisParameters): AnalysisWatch {
  const arrived = beginColumns();
  return {
    site,
    parameters,
    arrived,
    ascending: true,
    ordered: inOrderAlready(columnsSoFar(arrived)),
    orderedCount: 0,
    clean: beginCleaning(parameters.cleaning),
    account: parameters.supply && beginAccount(parameters.supply),
    pump: parameters.pump && beginGrowingPump(parameters.pump),
  };
}

/** A watch that has seen a whole log, which was put into order and cleaned while its parameters were estimated. */
export function watchCleaned(
  site: AnalysisSite,
  parameters: AnalysisParameters,
  columns: AnalysisColumns,
  ordered: OrderedColumns,
  cleaned: CleanedLog,
): AnalysisWatch {
  const begun = beginAnalysis(site, parameters);
  appendColumns(begun.arrived, columns);
  const { timeMs, pressureBar } = ordered.columns;
  const watch: AnalysisWatch = {
    ...begun,
    pump: parameters.pump && beginGrowingPump(parameters.pump, timeMs.length),
    ascending: ordered.columns === columns,
    ordered,
    orderedCount: columns.timeMs.length,
    clean: cleanedSoFar(cleaned, timeMs, pressureBar),
  };
  settle(watch);
  return watch;
}

/** The same watch with parameters that its account told and that don't change the account; the given one ends. */
export function withSupply(watch: AnalysisWatch, supply: SupplyParameters): AnalysisWatch {
  return { ...watch, parameters: { ...watch.parameters, supply } };
}

/** The same watch under the tap's law that its own account told; the given one ends, and its account is let go of. */
export function underLaw(watch: AnalysisWatch, law: TapLaw): AnalysisWatch {
  const { supply } = watch.parameters;
  if (!supply) return watch;
  watch.account?.parts.splice(0);
  const parameters = { ...watch.parameters, supply: { ...supply, law } };
  const other = { ...watch, parameters, account: beginAccount(parameters.supply) };
  settle(other);
  return other;
}

/** The same watch, with how the pump's plant rests estimated from all that it has seen. */
export function withPumpHabits(watch: AnalysisWatch): AnalysisWatch {
  if (!watch.pump) return watch;
  const pump = withHabits(watch.pump, cleanedLog(watch));
  return { ...watch, parameters: { ...watch.parameters, pump }, pump: { ...watch.pump, parameters: pump } };
}

/** Takes in rows as they arrive, and settles what no later reading can change. */
export function stepAnalysis(watch: AnalysisWatch, rows: AnalysisColumns): void {
  const { arrived } = watch;
  watch.ascending &&= allFollowOn(arrived, rows.timeMs);
  appendColumns(arrived, rows);
  // Rows that came late, twice or under a wrong clock are put into order once somebody asks.
  if (!watch.ascending) return;
  watch.ordered = inOrderAlready(columnsSoFar(arrived));
  watch.orderedCount = arrived.count;
  settle(watch);
}

/**
 * Takes in what the rows from a time on are by now, instead of what was taken in of them before: a slower channel has
 * caught up, and more rows have come. Costs in proportion to them. False, and nothing done, where rows came out of order.
 */
export function restateAnalysis(watch: AnalysisWatch, fromMs: number, rows: AnalysisColumns): boolean {
  const { arrived, clean, account } = watch;
  const kept = firstFrom(arrived, fromMs);
  const begin = { timeMs: arrived.timeMs, count: kept };
  if (!watch.ascending || !allFollowOn(begin, rows.timeMs)) return false;
  const before = columnsSoFar(arrived);
  const replaced = tailOf(before, kept);
  const changed = kept + firstChangedRow(replaced, rows, ['timeMs', 'pressureBar', 'flowLpm']);
  const readAnew = kept + firstChangedRow(replaced, rows, ['timeMs', 'pressureBar']);
  unsettleFrom(clean, readAnew, before.timeMs);
  if (account) unsettleAccount(account, Math.min(changed, clean.settled));
  if (watch.pump && watch.pump.taken > clean.settled) watch.pump = beginGrowingPump(watch.pump.parameters);
  truncateColumns(arrived, kept);
  appendColumns(arrived, rows);
  watch.ordered = inOrderAlready(columnsSoFar(arrived));
  watch.orderedCount = arrived.count;
  settle(watch);
  return true;
}

/** The findings of all rows so far, equal to those of a log that was read at once. The watch goes on. */
export function findingsAsOfNow(watch: AnalysisWatch): FindingsDocument {
  catchUp(watch);
  const { site, ordered, clean, parameters } = watch;
  const marked = [...clean.settledFaults, ...clean.openFaults];
  const bar = clean.bar.subarray(0, ordered.columns.timeMs.length);
  const series = seriesOf(ordered, bar, parameters.cleaning, marked, site);
  const budget = sensorBudget(site, series.noiseBar, series.quantumBar);
  const pump = watch.pump && pumpAsOfNow(watch.pump, series);
  const usable = pump && site.sensor.position === 'pump_inlet' ? withoutBelowRange(series, pump, site) : series;
  return findingsDocument(usable, site, budget, supplyOf(watch, usable, pump, budget.sharedBar), pump);
}

/** Once a pump's runs are known, what lies below the range while none pulls is no pressure. */
function withoutBelowRange(series: CleanSeries, { pulled }: PumpResult, site: AnalysisSite): CleanSeries {
  const { timeMs, intervalS } = series;
  const pressureBar = series.pressureBar.slice();
  const faults = markBelowRange(timeMs, pressureBar, site.sensor.rangeBar, 1000 * intervalS, pulled);
  return faults.length === 0 ? series : { ...series, pressureBar, faults: [...series.faults, ...faults] };
}

/** The account of all rows so far, those that aren't settled included. */
export function accountAsOfNow(watch: AnalysisWatch): readonly AccountPart[] {
  catchUp(watch);
  return watch.account ? partsAsOfNow(watch.account, cleanedRows(watch)) : [];
}

function supplyOf(
  watch: AnalysisWatch,
  series: CleanSeries,
  pump: PumpResult | undefined,
  sensorSharedBar: number,
): SupplyFindings | undefined {
  const { site, parameters } = watch;
  const last = series.pressureBar.findLastIndex((bar) => !Number.isNaN(bar));
  if (!parameters.supply || last < 1) return undefined;
  // What a pump draws shows at its inlet: its runs are known once the whole log is.
  const parts =
    site.sensor.position === 'pump_inlet'
      ? partsAsOfNow(
          beginAccount(parameters.supply, pump?.pulled ?? []),
          withoutKnownDraws(series, pump?.pulled ?? [], 1000 * series.intervalS),
        )
      : accountAsOfNow(watch);
  const first = series.pressureBar.findIndex((bar) => !Number.isNaN(bar));
  const log = { startMs: series.timeMs[first]!, endMs: series.timeMs[last]! + series.intervalS * 1000 };
  return supplyFindings(parts, parameters.supply, log, site, sensorSharedBar);
}

/** Whether a log tells of a pump: where it was read, by a channel, or by a meter where the site speaks of a pump. */
export function needsPump(columns: AnalysisColumns, site: AnalysisSite): boolean {
  const meteredPump = columns.flowLpm !== undefined && (site.meters === 'pump' || site.pump !== undefined);
  const byColumn = columns.pumpOn !== undefined || columns.inletBar !== undefined;
  return site.sensor.position !== 'incoming' || byColumn || meteredPump;
}

/** The first row at a time or after it; rows ascend. */
function firstFrom({ timeMs, count }: GrowingColumns, fromMs: number): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! < fromMs) low = middle + 1;
    else high = middle;
  }
  return low;
}

function tailOf({ timeMs, pressureBar, flowLpm }: AnalysisColumns, row: number): AnalysisColumns {
  return { timeMs: timeMs.subarray(row), pressureBar: pressureBar.subarray(row), flowLpm: flowLpm?.subarray(row) };
}

function allFollowOn({ timeMs, count }: Pick<GrowingColumns, 'timeMs' | 'count'>, next: Float64Array): boolean {
  const isFirst = count === 0 || next.length === 0;
  return (isFirst || followsOn(timeMs[count - 1]!, next[0]!)) && isInOrder(next);
}

function catchUp(watch: AnalysisWatch): void {
  const { arrived, orderedCount } = watch;
  if (watch.ascending || arrived.count === orderedCount) return;
  const before = watch.ordered.columns;
  watch.ordered = orderColumns(columnsSoFar(arrived), watch.parameters.cleaning.intervalS);
  watch.orderedCount = arrived.count;
  const changed = firstChangedRow(before, watch.ordered.columns, ['timeMs', 'pressureBar', 'flowLpm']);
  unsettleFrom(watch.clean, changed, before.timeMs);
  if (watch.account) unsettleAccount(watch.account, watch.clean.settled);
  if (watch.pump && watch.pump.taken > watch.clean.settled) watch.pump = beginGrowingPump(watch.pump.parameters);
  settle(watch);
}

/** Cleans what came, and settles the account as far as cleaned readings are. */
function settle(watch: AnalysisWatch): void {
  const { clean, account, site, pump } = watch;
  const { timeMs, pressureBar } = watch.ordered.columns;
  cleanOn(clean, timeMs, pressureBar);
  if (pump) growPump(pump, cleanedLog(watch), clean.settled);
  if (!account || site.sensor.position === 'pump_inlet') return;
  const { flowLpm, ...rows } = cleanedRows(watch);
  accountOn(account, {
    timeMs: rows.timeMs.subarray(0, clean.settled),
    pressureBar: rows.pressureBar.subarray(0, clean.settled),
    flowLpm: flowLpm?.subarray(0, clean.settled),
  });
}

/** All columns in order, the pressure as far as it may be trusted. */
function cleanedLog({ ordered: { columns }, clean }: AnalysisWatch): AnalysisColumns {
  return { ...columns, pressureBar: clean.bar.subarray(0, columns.timeMs.length) };
}

function cleanedRows({ ordered: { columns }, clean }: AnalysisWatch): SupplyRows {
  const { timeMs, flowLpm } = columns;
  return { timeMs, pressureBar: clean.bar.subarray(0, timeMs.length), flowLpm };
}

/** The first row that differs in one of some columns between two states of a growing log. */
function firstChangedRow(
  before: AnalysisColumns,
  after: AnalysisColumns,
  names: readonly ('timeMs' | 'pressureBar' | 'flowLpm')[],
): number {
  const rows = Math.min(before.timeMs.length, after.timeMs.length);
  const columns = names.flatMap((name) => {
    const [a, b] = [before[name], after[name]];
    return a && b ? [[a, b] as const] : [];
  });
  let row = 0;
  while (row < rows && columns.every(([a, b]) => Object.is(a[row], b[row]))) row++;
  return row;
}
