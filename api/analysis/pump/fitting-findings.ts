import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { localDate } from '../../../collector/model/local-time.ts';
import type { OutletReading } from '../../../collector/model/pump-setting.ts';
import type { AnalysisSite, Change, FittingFinding } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import { compareOutlets, comparePressure, type OutletPair } from './after-fitting.ts';

/** A day with fewer readings than this share of the fullest one doesn't stand for its day. */
const FULL_DAY_SHARE = 0.5;
/** What the pressure keeps for all but this share of a day: the busy minutes are what a fitting is for. */
const KEPT_SHARE = 0.95;
const QUANTITIES = ['flowLpm', 'pressureBar'] as const;

/**
 * Did the fitting work? Outlet readings of before and after it, outlet by outlet, and daily figures of the logged pressure
 * on either side, the day of the work left out. The time is the owner's, else that of a booster's fitting in the log;
 * undefined where neither is known.
 */
export function fittingFindings(
  series: { readonly timeMs: Float64Array; readonly pressureBar: Float64Array },
  site: AnalysisSite,
  changes: readonly Change[],
): FittingFinding | undefined {
  const seen = changes.find(({ kind, fromBar, toBar }) => kind === 'booster' && toBar > fromBar);
  const atMs = site.fittedMs ?? (seen ? Date.parse(seen.at) : undefined);
  if (atMs === undefined) return undefined;
  const outlets = QUANTITIES.flatMap((quantity) => {
    const pairs = pairsOf(site.outletReadings ?? [], quantity, atMs);
    if (pairs.length === 0) return [];
    const { gain, interval, answer } = compareOutlets(pairs);
    return [
      {
        quantity,
        pairs,
        ...(gain === undefined ? {} : { gain }),
        ...(interval === undefined ? {} : { interval }),
        answer,
      },
    ];
  });
  const logged = loggedSides(series, site.timeZone, atMs);
  if (outlets.length === 0 && logged.length === 0) return undefined;
  return { at: formatRfc3339(atMs), from: site.fittedMs === undefined ? 'log' : 'entered', outlets, logged };
}

/** Outlets read on both sides of the fitting; several readings of a side are averaged. */
function pairsOf(
  readings: readonly OutletReading[],
  quantity: (typeof QUANTITIES)[number],
  atMs: number,
): OutletPair[] {
  const byOutlet = new Map<string, { before: number[]; after: number[] }>();
  for (const reading of readings) {
    const value = reading[quantity];
    if (value === undefined) continue;
    const sides = byOutlet.get(reading.outlet) ?? { before: [], after: [] };
    byOutlet.set(reading.outlet, sides);
    (reading.atMs < atMs ? sides.before : sides.after).push(value);
  }
  return [...byOutlet].flatMap(([outlet, { before, after }]) =>
    before.length > 0 && after.length > 0 ? [{ outlet, before: meanOf(before), after: meanOf(after) }] : [],
  );
}

function loggedSides(
  { timeMs, pressureBar }: { readonly timeMs: Float64Array; readonly pressureBar: Float64Array },
  timeZone: string,
  atMs: number,
): FittingFinding['logged'] {
  const fittedOn = localDate(atMs, timeZone);
  const days = readingsByDay(timeMs, pressureBar, timeZone);
  const most = days.reduce((longest, { bars }) => Math.max(longest, bars.length), 0);
  const full = days.filter(({ day, bars }) => day !== fittedOn && bars.length >= FULL_DAY_SHARE * most);
  const figures = [
    ['median', (bars: Float64Array) => median(bars)],
    ['kept95', (bars: Float64Array) => quantile(bars, 1 - KEPT_SHARE)],
  ] as const;
  return figures.flatMap(([figure, of]) => {
    const before = full.filter(({ day }) => day < fittedOn).map(({ bars }) => of(bars));
    const after = full.filter(({ day }) => day > fittedOn).map(({ bars }) => of(bars));
    const compared = comparePressure(before, after);
    if (!compared) return [];
    const { fromBar, toBar, interval, answer } = compared;
    return [
      {
        figure,
        daysBefore: before.length,
        daysAfter: after.length,
        fromBar,
        toBar,
        ...(interval === undefined ? {} : { interval }),
        answer,
      },
    ];
  });
}

function readingsByDay(timeMs: Float64Array, pressureBar: Float64Array, timeZone: string) {
  const days: { day: string; bars: Float64Array }[] = [];
  let from = 0;
  while (from < timeMs.length) {
    const day = localDate(timeMs[from]!, timeZone);
    let low = from;
    let high = timeMs.length;
    // Days are in order: the first row of the next one is found by halving.
    while (low < high) {
      const middle = (low + high) >> 1;
      if (localDate(timeMs[middle]!, timeZone) <= day) low = middle + 1;
      else high = middle;
    }
    const bars = pressureBar.slice(from, low).filter((bar) => !Number.isNaN(bar));
    if (bars.length > 0) days.push({ day, bars });
    from = low;
  }
  return days;
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
