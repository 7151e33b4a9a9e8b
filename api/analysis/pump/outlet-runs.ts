import { hingeOnset } from './hinge-onset.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import type { SwitchLevels, SwitchLevelsSpan } from './switch-levels.ts';
import { type Rise, risesOf } from './turning-points.ts';

/** Part of the band that a swing must span to be a run: noise and a draw's small ripples don't. */
const SWING_SHARE = 0.4;
/** Readings further apart than this seldom catch the turns themselves: swings look smaller, valleys lie higher. */
const COARSE_MS = 4_000;
const COARSE_SWING_SHARE = 0.25;
/** How far above cut-in, as part of the band, a coarse valley may lie with the whole fall and rise between two rows. */
const COARSE_CUT_IN_SHARE = 0.6;
/** With a band of at least this many times the noise, raw readings show its turns; calmed ones blunt quick cycles. */
const RAW_BAND_IN_NOISE = 7.5;
/** A rise of fewer noises than this could be chance if it were slow; a fast one is no chance. */
const CERTAIN_IN_NOISE = 10;
const CHANCE_RISE_ROWS = 6;
/** How far above cut-in, as part of the band, a valley may lie and still be the switch's doing. */
const CUT_IN_SHARE = 0.12;
/** A peak this far below cut-out, as part of the band, doesn't end a run: the pump is still on under a draw. */
const CUT_OUT_SHARE = 0.4;
/** Longest time a pump takes to show in the pressure after its switch has closed. Common practice, no source. */
const SPIN_UP_MS = 8_000;
/** Noise above this part of a swing hides where a slow rise begins. */
const LOUD_SHARE = 0.008;
/** So many rows without a rise end a run. */
const SETTLED_ROWS = 3;

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
      if (startRow <= from || maybeChance(rows, rise)) continue;
      runs.push({
        startMs: rows.timeMs[startRow]!,
        startRow,
        cutInBar: rows.calmBar[startRow]!,
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
  const narrowest = bands.reduce((least, band) => Math.min(least, band));
  const raw = narrowest >= RAW_BAND_IN_NOISE * rows.noiseBar;
  const bar = raw ? rows.bar : rows.calmBar;
  const floorBar = Math.max(raw ? 5.5 * rows.noiseBar : 6 * rows.calmNoiseBar, 2 * rows.quantumBar, 0.04);
  const share = rows.intervalMs > COARSE_MS ? COARSE_SWING_SHARE : SWING_SHARE;
  let span = 0;
  for (const rise of risesOf(bar, from, to, Math.max(share * narrowest, floorBar))) {
    const atMs = rows.timeMs[rise.valley]!;
    while (span + 1 < spans.length && spans[span]!.toMs <= atMs) span++;
    const levels = spans[span]!.levels;
    if (!levels) continue;
    if (bar[rise.peak]! - bar[rise.valley]! >= share * (levels.cutOutBar - levels.cutInBar)) yield [rise, levels];
  }
}

/** In long quiet spells noise alone spans several times its deviation, but not within a few rows. */
function maybeChance(rows: PumpRows, rise: Rise): boolean {
  const swing = rows.bar[rise.peak]! - rows.bar[rise.valley]!;
  return swing < CERTAIN_IN_NOISE * rows.noiseBar && rise.peak - rise.valley > CHANCE_RISE_ROWS;
}

/** Between two rows the pressure may have gone on as it was going: at 10 s the turn itself is seldom caught. */
function reachesCutIn(rows: PumpRows, rise: Rise, levels: SwitchLevels): boolean {
  const valley = Math.min(rows.bar[rise.valley]!, rows.calmBar[rise.valley]!);
  const going = rise.valley > rise.fromPeak ? Math.max(0, rows.bar[rise.valley - 1]! - valley) : 0;
  if (valley - going <= levels.cutInBar + levelTolerance(rows, levels)) return true;
  if (rows.intervalMs <= COARSE_MS) return false;
  const band = levels.cutOutBar - levels.cutInBar;
  const fast = rows.bar[Math.min(rise.valley + 1, rise.peak)]! - valley >= COARSE_SWING_SHARE * band;
  return fast && valley <= levels.cutInBar + COARSE_CUT_IN_SHARE * band;
}

function reachesCutOut(rows: PumpRows, rise: Rise, levels: SwitchLevels, to: number): boolean {
  const peak = Math.max(rows.bar[rise.peak]!, rows.calmBar[rise.peak]!);
  const rising = Math.max(0, peak - rows.bar[rise.peak - 1]!);
  const seenToEnd = rise.peak < to - 1;
  return seenToEnd && peak + rising >= levels.cutOutBar - CUT_OUT_SHARE * (levels.cutOutBar - levels.cutInBar);
}

function levelTolerance(rows: PumpRows, levels: SwitchLevels): number {
  const band = levels.cutOutBar - levels.cutInBar;
  return Math.max(CUT_IN_SHARE * band, 2 * rows.noiseBar, rows.quantumBar);
}

/**
 * The last low reading before the rise; but where a draw outruns the pump and holds the pressure well below cut-in,
 * the reading at which it fell past cut-in: the switch closed there.
 */
function startRowOf(rows: PumpRows, rise: Rise, levels: SwitchLevels): number {
  const valley = rows.calmBar[rise.valley]!;
  const swing = rows.bar[rise.peak]! - valley;
  const high = valley + 0.3 * swing;
  let row = rise.valley;
  while (row < rise.peak && rows.bar[row]! < high) row++;
  const low = valley + Math.max(2.5 * rows.noiseBar, 1.2 * rows.quantumBar);
  while (row > rise.valley && rows.bar[row]! > low) row--;
  const loud = rows.intervalMs <= COARSE_MS && rows.noiseBar > LOUD_SHARE * swing;
  const onset = loud ? hingeOnset(rows, rise, row, levels) : row;
  const past = levels.cutInBar - levelTolerance(rows, levels);
  if (valley >= past) return onset;
  let fell = rise.valley;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < past) fell--;
  while (fell > rise.fromPeak && rows.calmBar[fell]! < levels.cutInBar) fell--;
  const spinUp = Math.max(SPIN_UP_MS, 2.5 * rows.intervalMs);
  return rows.timeMs[onset]! - rows.timeMs[fell]! > spinUp ? fell : onset;
}

/** The first reading high in the band after which the pressure no longer rises by more than noise. */
function stopOf(rows: PumpRows, rise: Rise): { stopMs: number; stopRow: number; cutOutBar: number } {
  const valley = rows.calmBar[rise.valley]!;
  const swing = rows.calmBar[rise.peak]! - valley;
  const margin = Math.max(2 * rows.calmNoiseBar, rows.quantumBar, 0.01 * swing);
  let row = rise.valley + 1;
  while (row < rise.peak && rows.calmBar[row]! < valley + 0.6 * swing) row++;
  while (row < rise.peak && risesOn(rows, row, Math.min(rise.peak, row + SETTLED_ROWS), margin)) row++;
  return { stopMs: rows.timeMs[row]!, stopRow: row, cutOutBar: rows.calmBar[row]! };
}

function risesOn(rows: PumpRows, row: number, to: number, margin: number): boolean {
  for (let i = row + 1; i <= to; i++) if (rows.calmBar[i]! > rows.calmBar[row]! + margin) return true;
  return false;
}
