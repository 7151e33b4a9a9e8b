import type { AnalysisColumns, AnalysisSite } from '../findings.ts';
import { estimateCleaning, intervalOf } from './cleaning-parameters.ts';
import { findGaps, gapLimitMs, gapsOutside } from './gaps.ts';
import type { MarkedFault } from './marked-fault.ts';
import type { NoiseFloor } from './noise-floor.ts';
import { orderRows } from './order-rows.ts';

/** The log in order, one row a stamp. NaN in `pressureBar` marks a reading that isn't used; the fault list says why. */
export interface CleanSeries extends NoiseFloor {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
  readonly pumpOn: Float64Array | undefined;
  readonly inletBar: Float64Array | undefined;
  readonly intervalS: number;
  readonly faults: readonly MarkedFault[];
}

/** Rows ascending in time, one a stamp, and what their order of arrival told. */
export interface OrderedColumns {
  readonly columns: AnalysisColumns;
  readonly faults: readonly MarkedFault[];
  /** When samples were taken that came under a wrong clock. */
  readonly explained: readonly { readonly fromMs: number; readonly toMs: number }[];
}

/** Columns that stand in order as they came. */
export function inOrderAlready(columns: AnalysisColumns): OrderedColumns {
  return { columns, faults: [], explained: [] };
}

/** Puts rows that came late, twice or under a wrong clock into order; ascending ones are given back as they are. */
export function orderColumns(columns: AnalysisColumns, intervalS: number): OrderedColumns {
  const intervalMs = intervalS * 1000;
  const { rows, ...told } = orderRows(columns.timeMs, columns.pressureBar, intervalMs, gapLimitMs(intervalMs));
  if (!rows) return inOrderAlready(columns);
  const pick = (column: Float64Array): Float64Array => {
    const picked = new Float64Array(rows.length);
    for (let i = 0; i < rows.length; i++) picked[i] = column[rows[i]!]!;
    return picked;
  };
  const { timeMs, pressureBar, flowLpm, pumpOn, inletBar } = columns;
  return {
    columns: {
      timeMs: pick(timeMs),
      pressureBar: pick(pressureBar),
      flowLpm: flowLpm && pick(flowLpm),
      pumpOn: pumpOn && pick(pumpOn),
      inletBar: inletBar && pick(inletBar),
    },
    ...told,
  };
}

/** What is known of a log once its readings are cleaned. */
export function seriesOf(
  { columns, faults, explained }: OrderedColumns,
  pressureBar: Float64Array,
  { noiseBar, quantumBar, intervalS }: NoiseFloor & { readonly intervalS: number },
  marked: readonly MarkedFault[],
  site: AnalysisSite,
): CleanSeries {
  const { timeMs, flowLpm, pumpOn, inletBar } = columns;
  const intervalMs = intervalS * 1000;
  const missing = gapsOutside(findGaps(timeMs, intervalMs), explained, intervalMs);
  const gaps = gapsOutside(missing, site.rawErased ?? [], intervalMs);
  return {
    timeMs,
    pressureBar,
    flowLpm,
    pumpOn,
    inletBar,
    intervalS,
    noiseBar,
    quantumBar,
    faults: [...faults, ...gaps, ...marked],
  };
}

/** Order, clock, range, spikes, stuck readings, gaps: what is left is what the analysis may trust. */
export function cleanSeries(columns: AnalysisColumns, site: AnalysisSite): CleanSeries {
  const intervalS = intervalOf(columns, site);
  const ordered = orderColumns(columns, intervalS);
  const { parameters, pressureBar, faults } = estimateCleaning(ordered.columns, intervalS, site);
  return seriesOf(ordered, pressureBar, parameters, faults, site);
}
