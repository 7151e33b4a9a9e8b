import { localDate } from '../../../collector/model/local-time.ts';
import type { Evidence, PumpTrend } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import { mannKendall, theilSen } from '../statistics/trend.ts';
import { outflowIndex } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { trendSteps } from './state-steps.ts';

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

const TEST_RULE =
  `slope by Theil and Sen over at least ${FEWEST_DAYS} days of ${FEWEST_RUNS_A_DAY} runs each, told where a one-sided ` +
  `Mann–Kendall test gives days that are alike a chance of at most ${LARGEST_P}`;
const RULES: Record<PumpTrend['figure'], string> = {
  filling:
    `How fast the pump fills its vessel, of each day its quicker fills (nobody drew meanwhile): ${TEST_RULE}, and the ` +
    `slope is ${Math.round(100 * LEAST_SHARE_PER_MONTH)} % of the median a month or more.`,
  cut_out: `The cut-out reached, of each day the higher tops (a draw cuts one off): ${TEST_RULE}, and the slope is ${LEAST_BAR_PER_MONTH} bar a month or more.`,
};

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
      return [{ name: day, day: Date.parse(day) / 86_400_000, value: quantile(values, UNDRAWN) }];
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
    if (p > LARGEST_P || Math.abs(perMonth) < least) continue;
    const steps = trendSteps({ figure, perMonth });
    trends.push({
      figure,
      firstDay: series[0]!.name,
      lastDay: series[series.length - 1]!.name,
      days: series.length,
      perMonth,
      p,
      rule: RULES[figure],
      ...(steps ? { nextSteps: steps } : {}),
    });
  }
  return trends;
}

/** Sentences for what gets worse. */
export function trendStatements(trends: readonly PumpTrend[]): Evidence['statements'][number][] {
  return trends
    .filter(({ perMonth }) => perMonth < 0)
    .map(({ figure, perMonth, days, p }) => ({
      text:
        figure === 'filling'
          ? `Over ${days} days the pump has filled its vessel more slowly, by ${Math.round(-100 * perMonth)} % a month ` +
            `(Theil–Sen; Mann–Kendall p ${chance(p)}): wear, a clogged strainer or a falling main.`
          : `Over ${days} days the pressure at which the pump stops has fallen by ${(-perMonth).toFixed(2)} bar a month ` +
            `(Theil–Sen; Mann–Kendall p ${chance(p)}): wear, or a switch that drifts.`,
      certainty: 'possible' as const,
    }));
}

function chance(p: number): string {
  return p < 0.0001 ? '< 0.0001' : `= ${Number(p.toPrecision(1))}`;
}
