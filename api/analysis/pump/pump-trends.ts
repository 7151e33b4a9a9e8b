import { localDate } from '../../../collector/model/local-time.ts';
import type { Evidence, PumpTrend } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import { mannKendall, theilSen } from '../statistics/trend.ts';
import { outflowIndex } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** Fewer days than this show no slow change. */
const FEWEST_DAYS = 14;
const FEWEST_RUNS_A_DAY = 4;
/** A shorter fill, in rows, doesn't show its rate. */
const FEWEST_FILL_ROWS = 4;
/** Of a day's fills the quicker ones had nobody drawing meanwhile, and so had the higher of its tops: a draw cuts one off. */
const UNDRAWN = 0.8;
const LARGEST_P = 0.01;
/** Slower changes than these a month matter to nobody. Common practice, no source. */
const LEAST_SHARE_PER_MONTH = 0.03;
const LEAST_BAR_PER_MONTH = 0.05;
const MONTH_DAYS = 30;

/**
 * Slow changes over the days: how fast the pump fills its vessel, and the cut-out it reaches. Theil–Sen slopes of daily
 * figures, kept where a Mann–Kendall test finds days that are alike unlikely (Helsel et al., USGS TM 4-A3, 2020).
 */
export function pumpTrends(rows: PumpRows, runs: readonly PumpRun[], timeZone: string): PumpTrend[] {
  const days = new Map<string, { fills: number[]; tops: number[] }>();
  for (const run of runs) {
    if (run.stopRow === undefined || run.cutOutBar === undefined) continue;
    const key = localDate(run.startMs, timeZone);
    const day = days.get(key) ?? { fills: [], tops: [] };
    days.set(key, day);
    day.tops.push(run.cutOutBar);
    const ms = rows.timeMs[run.stopRow]! - rows.timeMs[run.startRow]!;
    if (run.stopRow - run.startRow < FEWEST_FILL_ROWS) continue;
    day.fills.push((outflowIndex(rows.calmBar[run.startRow]!) - outflowIndex(run.cutOutBar)) / ms);
  }
  const known = [...days.entries()].sort(([a], [b]) => (a < b ? -1 : 1));
  const trends: PumpTrend[] = [];
  for (const figure of ['filling', 'cut_out'] as const) {
    const series = known.flatMap(([day, { fills, tops }]) => {
      const values = figure === 'filling' ? fills : tops;
      if (values.length < FEWEST_RUNS_A_DAY) return [];
      return [{ day: Date.parse(day) / 86_400_000, value: quantile(values, UNDRAWN) }];
    });
    if (series.length < FEWEST_DAYS) continue;
    const values = series.map(({ value }) => value);
    const { slope } = theilSen(
      series.map(({ day }) => day),
      values,
    );
    const perMonth = (MONTH_DAYS * slope) / (figure === 'filling' ? median(values) : 1);
    const p = mannKendall(values).oneSidedP;
    const least = figure === 'filling' ? LEAST_SHARE_PER_MONTH : LEAST_BAR_PER_MONTH;
    if (p <= LARGEST_P && Math.abs(perMonth) >= least) trends.push({ figure, days: series.length, perMonth, p });
  }
  return trends;
}

/** Sentences for what gets worse. */
export function trendStatements(trends: readonly PumpTrend[]): Evidence['statements'][number][] {
  return trends
    .filter(({ perMonth }) => perMonth < 0)
    .map(({ figure, perMonth, days }) => ({
      text:
        figure === 'filling'
          ? `Over ${days} days the pump has filled its vessel more slowly, by ${Math.round(-100 * perMonth)} % a month: ` +
            'wear, a clogged strainer or a falling main.'
          : `Over ${days} days the pressure at which the pump stops has fallen by ${(-perMonth).toFixed(2)} bar a month: ` +
            'wear, or a switch that drifts.',
      certainty: 'possible' as const,
    }));
}
