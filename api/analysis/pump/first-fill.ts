import type { Change } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** The pressure just before a pump first runs is the middle of the readings of so long. */
const BEFORE_MS = 600_000;
/** Nearer to the rise the street's own pressure of that minute counts. */
const JUST_BEFORE_MS = 60_000;
/** So much of the fitting's lift is a part of the rise, whatever the street does meanwhile. */
const RISEN_SHARE = 0.05;
const CLEAR_IN_NOISE = 2.5;
const CLEAR_IN_STEPS = 1.2;
/** A first run that fills pipes and vessel takes no longer; else its stop isn't told. Common practice, no source. */
const LONGEST_FILL_MS = 1_200_000;

/**
 * Runs with the first one of each fitting of a booster. Its rise leaves the street's own pressure, far below the switch's
 * cut-in: what the search makes of a rise there began long before there was a pump. Undoubtedly it starts with the last
 * low reading before the fitting's rise, and stops where the pressure first comes to the usual cut-out.
 * Its low is the street's, no cut-in.
 * @param runs ascending, those without a booster left out
 */
export function withFirstFills(
  rows: PumpRows,
  runs: readonly PumpRun[],
  changes: readonly Change[],
): readonly PumpRun[] {
  const cutOutBar = median(runs.flatMap((run) => run.cutOutBar ?? []));
  const firsts: PumpRun[] = [];
  for (const change of changes) {
    if (change.toBar <= change.fromBar) continue;
    const first = firstFill(rows, Date.parse(change.at), change.toBar - change.fromBar, cutOutBar);
    if (!first) continue;
    const { startMs, stopMs = startMs } = first;
    const known = runs.some((run) => run.startMs <= stopMs && (run.stopMs ?? run.startMs) >= startMs);
    if (!known) firsts.push(first);
  }
  return firsts.length === 0 ? runs : [...runs, ...firsts].sort((a, b) => a.startMs - b.startMs);
}

function firstFill(rows: PumpRows, atMs: number, liftBar: number, cutOutBar: number): PumpRun | undefined {
  const { timeMs, calmBar, stretchFrom } = rows;
  const edge = timeMs.findIndex((ms) => ms >= atMs);
  if (edge < 0 || Number.isNaN(cutOutBar)) return undefined;
  const stretchRow = stretchFrom.findLast((row) => row <= edge) ?? 0;
  const clearBar = Math.max(CLEAR_IN_NOISE * rows.noiseBar, CLEAR_IN_STEPS * rows.quantumBar);
  // The fitting's edge is where readings leave the lower of both levels: it lies within the rise or just before it.
  const usualBar = levelBefore(rows, edge, stretchRow, BEFORE_MS);
  if (usualBar === undefined) return undefined;
  const bottom = lastAtOrBelow(rows, edge, stretchRow, usualBar + Math.max(clearBar, RISEN_SHARE * liftBar));
  if (bottom === undefined) return undefined;
  const lowBar = levelBefore(rows, bottom, stretchRow, JUST_BEFORE_MS) ?? usualBar;
  const startRow = lastAtOrBelow(rows, bottom, stretchRow, lowBar + clearBar) ?? bottom;
  const start = { startMs: timeMs[startRow]!, startRow };
  const end = stretchFrom.find((row) => row > startRow) ?? timeMs.length;
  for (let row = startRow + 1; row < end && timeMs[row]! - start.startMs <= LONGEST_FILL_MS; row++) {
    if (calmBar[row]! < cutOutBar - clearBar) continue;
    return { ...start, stopMs: timeMs[row]!, stopRow: row, cutOutBar: calmBar[row]! };
  }
  return start;
}

/** The middle of the readings just before a row; undefined without any: what came before lies in a gap. */
function levelBefore(
  { timeMs, bar }: PumpRows,
  row: number,
  stretchRow: number,
  longestMs: number,
): number | undefined {
  let from = row;
  while (from > stretchRow && timeMs[row]! - timeMs[from - 1]! <= longestMs) from--;
  return from === row ? undefined : median(bar.subarray(from, row));
}

function lastAtOrBelow({ bar }: PumpRows, row: number, stretchRow: number, levelBar: number): number | undefined {
  let at = row;
  while (at > stretchRow && bar[at]! > levelBar) at--;
  return bar[at]! > levelBar ? undefined : at;
}
