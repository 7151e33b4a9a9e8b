import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import type { SwitchLevels, SwitchLevelsSpan } from './switch-levels.ts';
import { type Rise, risesOf } from './turning-points.ts';

/** Part of the band that a swing must span to be a run: noise and a draw's small ripples don't. */
const SWING_SHARE = 0.4;
/** How far above cut-in, as part of the band, a valley may lie and still be the switch's doing. */
const CUT_IN_SHARE = 0.12;
/** A peak this far below cut-out, as part of the band, doesn't end a run: the pump is still on under a draw. */
const CUT_OUT_SHARE = 0.4;
/** Longest time a pump takes to show in the pressure after its switch has closed. Common practice, no source. */
const SPIN_UP_MS = 8_000;

/**
 * A pump's runs from the pressure behind it alone: a start is a valley at cut-in with a rise of a good part of the
 * band after it. Linear time. A rise that begins with its stretch is no start: what began it lies in the gap.
 */
export function outletRuns(rows: PumpRows, spans: readonly SwitchLevelsSpan[]): PumpRun[] {
  const runs: PumpRun[] = [];
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    const from = rows.stretchFrom[s]!;
    const to = rows.stretchFrom[s + 1]!;
    let running = false;
    for (const [rise, levels] of risesByLevels(rows, spans, from, to)) {
      const reached = reachesCutOut(rows, rise, levels, to);
      if (running || !reachesCutIn(rows, rise, levels)) {
        if (running && reached) {
          const run = runs[runs.length - 1]!;
          runs[runs.length - 1] = { ...run, ...stopOf(rows, rise) };
          running = false;
        }
        continue;
      }
      const startRow = startRowOf(rows, rise, levels);
      if (startRow <= from) continue;
      runs.push({
        startMs: rows.timeMs[startRow]!,
        startRow,
        cutInBar: rows.bar[startRow]!,
        ...(reached ? stopOf(rows, rise) : {}),
      });
      running = !reached;
    }
  }
  return runs;
}

function* risesByLevels(
  rows: PumpRows,
  spans: readonly SwitchLevelsSpan[],
  from: number,
  to: number,
): Generator<[Rise, SwitchLevels]> {
  const bands = spans.flatMap(({ levels }) => (levels ? [levels.cutOutBar - levels.cutInBar] : []));
  if (bands.length === 0) return;
  const floorBar = Math.max(5 * rows.calmNoiseBar, 2 * rows.quantumBar, 0.04);
  const narrowest = bands.reduce((least, band) => Math.min(least, band));
  let span = 0;
  for (const rise of risesOf(rows.calmBar, from, to, Math.max(SWING_SHARE * narrowest, floorBar))) {
    const atMs = rows.timeMs[rise.valley]!;
    while (span + 1 < spans.length && spans[span]!.toMs <= atMs) span++;
    const levels = spans[span]!.levels;
    if (!levels) continue;
    const swing = rows.calmBar[rise.peak]! - rows.calmBar[rise.valley]!;
    if (swing >= SWING_SHARE * (levels.cutOutBar - levels.cutInBar)) yield [rise, levels];
  }
}

/** Between two rows the pressure may have gone on as it was going: at 10 s the turn itself is seldom caught. */
function reachesCutIn(rows: PumpRows, rise: Rise, levels: SwitchLevels): boolean {
  const valley = rows.calmBar[rise.valley]!;
  const going = rise.valley > rise.fromPeak ? Math.max(0, rows.calmBar[rise.valley - 1]! - valley) : 0;
  return valley - going <= levels.cutInBar + levelTolerance(rows, levels);
}

function reachesCutOut(rows: PumpRows, rise: Rise, levels: SwitchLevels, to: number): boolean {
  const peak = rows.calmBar[rise.peak]!;
  const rising = Math.max(0, peak - rows.calmBar[rise.peak - 1]!);
  const seenToEnd = rise.peak < to - 1;
  return seenToEnd && peak + rising >= levels.cutOutBar - CUT_OUT_SHARE * (levels.cutOutBar - levels.cutInBar);
}

function levelTolerance(rows: PumpRows, levels: SwitchLevels): number {
  const band = levels.cutOutBar - levels.cutInBar;
  return Math.max(CUT_IN_SHARE * band, 3 * rows.calmNoiseBar, rows.quantumBar);
}

/**
 * The last low reading before the rise; but where a draw outruns the pump and holds the pressure well below cut-in,
 * the reading at which it fell past cut-in: the switch closed there.
 */
function startRowOf(rows: PumpRows, rise: Rise, levels: SwitchLevels): number {
  const valley = rows.calmBar[rise.valley]!;
  const swing = rows.calmBar[rise.peak]! - valley;
  const high = valley + 0.3 * swing;
  let row = rise.valley;
  while (row < rise.peak && rows.calmBar[row]! < high) row++;
  const low = valley + Math.max(2.5 * rows.noiseBar, 1.2 * rows.quantumBar, 0.03 * swing);
  while (row > rise.valley && rows.bar[row]! > low) row--;
  const onset = row;
  const past = levels.cutInBar - levelTolerance(rows, levels);
  if (valley >= past) return onset;
  let fell = rise.valley;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < past) fell--;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < levels.cutInBar) fell--;
  const spinUp = Math.max(SPIN_UP_MS, 2.5 * rows.intervalMs);
  return rows.timeMs[onset]! - rows.timeMs[fell]! > spinUp ? fell : onset;
}

/** The first reading at the top: from there on the pressure no longer rises. */
function stopOf(rows: PumpRows, rise: Rise): { stopMs: number; stopRow: number; cutOutBar: number } {
  const peak = rows.calmBar[rise.peak]!;
  const swing = peak - rows.calmBar[rise.valley]!;
  const top = peak - Math.max(2 * rows.noiseBar, rows.quantumBar, 0.03 * swing);
  let row = rise.peak;
  while (row > rise.valley + 1 && rows.calmBar[row - 1]! >= top) row--;
  return { stopMs: rows.timeMs[row]!, stopRow: row, cutOutBar: peak };
}
