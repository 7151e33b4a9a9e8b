import type { PumpRows, ReadRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { RUN_ON_MS } from './pump-states.ts';
import { COARSE_MS, levelTolerance, startRowOf } from './run-start.ts';
import { stopOf } from './run-stop.ts';
import { beginDecoding, type DecodedRun, decodeRow, endDecoding, keptDecoder, type SawDecoder } from './saw-decoder.ts';
import type { SwitchLevels, SwitchLevelsSpan } from './switch-levels.ts';
import { beginTurns, type Rise, riseSoFar, type TurnSearch, turnAt } from './turning-points.ts';

/** Part of the band that a swing must span to be a run: noise and a draw's small ripples don't. */
const SWING_SHARE = 0.4;
const COARSE_SWING_SHARE = 0.25;
/** How far above cut-in, as part of the band, a coarse valley may lie with the whole fall and rise between two rows. */
const COARSE_CUT_IN_SHARE = 0.6;
/** With a band of at least this many times the noise, raw readings show its turns; calmed ones blunt quick cycles. */
const RAW_BAND_IN_NOISE = 7.5;
/** A band of fewer noises than this shows no turn by itself: there the likeliest course of all readings is sought. */
const SAW_BAND_IN_NOISE = 10;
const LEAST_BAND_IN_NOISE = 2.5;
/** A rise of fewer noises than this could be chance if it were slow; a fast one is no chance. */
const CERTAIN_IN_NOISE = 10;
const CHANCE_RISE_ROWS = 6;
/** A peak this far below cut-out, as part of the band, doesn't end a run: the pump is still on under a draw. */
const CUT_OUT_SHARE = 0.4;

/** Readings within so many noises of each other stand still: for as long as no pump is kept on, it rests. */
const STILL_IN_NOISE = 5;

/** Where the search for runs stands: runs found so far, and whether the last one goes on. */
export interface RunSearch {
  readonly runs: PumpRun[];
  /** The last run hasn't been seen to stop. */
  running: boolean;
  readonly spans: readonly SwitchLevelsSpan[];
  span: number;
  /** Reversal that counts; undefined where no levels are known and nothing can be found. */
  readonly reversalBar: number | undefined;
  readonly raw: boolean;
  turns: TurnSearch | undefined;
  stretchRow: number;
  /** While the band drowns in noise, the decoder; with the span that a row falls into. */
  saw: SawDecoder | undefined;
  rowSpan: number;
}

/** Where the search stands, its runs left out: what it does afterwards leaves this as it is. */
export function keptSearch({ runs: _, ...search }: RunSearch): Omit<RunSearch, 'runs'> {
  return {
    ...search,
    turns: search.turns && { ...search.turns },
    saw: search.saw && keptDecoder(search.saw),
  };
}

type Grain = Pick<PumpRows, 'noiseBar' | 'calmNoiseBar' | 'quantumBar' | 'intervalMs'>;

/** Begins the search with the levels known beforehand; `runsAt` and `endStretch` move it on. */
export function beginRuns(grain: Grain, spans: readonly SwitchLevelsSpan[]): RunSearch {
  const bands = spans.flatMap(({ levels }) => (levels ? [levels.cutOutBar - levels.cutInBar] : []));
  const narrowest = bands.reduce((least, band) => Math.min(least, band), Number.POSITIVE_INFINITY);
  const raw = narrowest >= RAW_BAND_IN_NOISE * grain.noiseBar;
  const floorBar = Math.max(raw ? 5.5 * grain.noiseBar : 6 * grain.calmNoiseBar, 2 * grain.quantumBar, 0.04);
  const reversalBar = bands.length === 0 ? undefined : Math.max(swingShare(grain) * narrowest, floorBar);
  return {
    runs: [],
    running: false,
    spans,
    span: 0,
    reversalBar,
    raw,
    turns: undefined,
    stretchRow: 0,
    saw: undefined,
    rowSpan: 0,
  };
}

/** Moves the search on to a row: whatever ends there. Rows must come in order; those before must be there already. */
export function runsAt(search: RunSearch, rows: ReadRows, row: number): void {
  if (search.reversalBar === undefined) return;
  if (search.turns === undefined) {
    search.turns = beginTurns(row);
    search.stretchRow = row;
    search.running = false;
  } else if (!search.saw && !drowned(search, rows, row)) {
    const rise = turnAt(search.turns, search.raw ? rows.bar : rows.calmBar, row, search.reversalBar);
    if (rise) riseEnds(search, rows, rise, row + 1);
    return;
  }
  decode(search, rows, row);
}

/** The levels at a row, where the band between them drowns in noise. */
function drowned(search: RunSearch, rows: ReadRows, row: number): SwitchLevels | undefined {
  const { spans } = search;
  while (search.rowSpan + 1 < spans.length && spans[search.rowSpan]!.toMs <= rows.timeMs[row]!) search.rowSpan++;
  const levels = spans[search.rowSpan]!.levels;
  if (!levels || rows.intervalMs > COARSE_MS) return undefined;
  const bandInNoise = (levels.cutOutBar - levels.cutInBar) / rows.noiseBar;
  return bandInNoise < SAW_BAND_IN_NOISE && bandInNoise >= LEAST_BAND_IN_NOISE ? levels : undefined;
}

/** Lets the decoder take a row, begins it where the band drowns from here on, and ends it where it no longer does. */
function decode(search: RunSearch, rows: ReadRows, row: number): void {
  const levels = drowned(search, rows, row);
  if (search.saw && search.saw.levels !== levels) {
    endSaw(search, rows);
    search.turns = beginTurns(row);
    search.stretchRow = row;
  }
  if (!levels) return;
  if (!search.saw) {
    const rise = search.turns && riseSoFar(search.turns);
    if (rise && rise.peak < row) riseEnds(search, rows, rise, row);
    search.running = false;
    search.saw = beginDecoding(levels, rows.noiseBar, row);
  }
  for (const run of decodeRow(search.saw, rows.bar[row]!)) pushDecoded(search, rows, run, levels);
}

function endSaw(search: RunSearch, rows: ReadRows): void {
  const { saw } = search;
  if (!saw) return;
  search.saw = undefined;
  for (const run of endDecoding(saw)) pushDecoded(search, rows, run, saw.levels);
}

/** Single readings say little under such noise: cut-in and cut-out are where the log's readings turn on the whole. */
function pushDecoded(search: RunSearch, rows: ReadRows, { startRow, stopRow }: DecodedRun, levels: SwitchLevels): void {
  const { cutInBar, cutOutBar } = levels;
  search.runs.push({
    startMs: rows.timeMs[startRow]!,
    startRow,
    cutInBar,
    ...(stopRow === undefined ? {} : { stopMs: rows.timeMs[stopRow]!, stopRow, cutOutBar }),
  });
  search.running = stopRow === undefined;
}

/** Tells the search that the stretch ends before `toRow`: a gap or the end of the log. */
export function endStretch(search: RunSearch, rows: ReadRows, toRow: number): void {
  if (search.saw) endSaw(search, rows);
  else {
    const rise = search.turns && riseSoFar(search.turns);
    if (rise) riseEnds(search, rows, rise, toRow);
  }
  search.turns = undefined;
}

/**
 * A pump's runs from the pressure behind it alone: a start is a valley at cut-in with a rise of a good part of the
 * band after it. Linear time. A rise that begins with its stretch is no start: what began it lies in the gap.
 */
export function outletRuns(rows: PumpRows, spans: readonly SwitchLevelsSpan[]): PumpRun[] {
  const search = beginRuns(rows, spans);
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    const to = rows.stretchFrom[s + 1]!;
    for (let row = rows.stretchFrom[s]!; row < to; row++) runsAt(search, rows, row);
    endStretch(search, rows, to);
  }
  return search.runs;
}

function riseEnds(search: RunSearch, rows: ReadRows, rise: Rise, seenTo: number): void {
  const { runs, spans } = search;
  const bar = search.raw ? rows.bar : rows.calmBar;
  const atMs = rows.timeMs[rise.valley]!;
  while (search.span + 1 < spans.length && spans[search.span]!.toMs <= atMs) search.span++;
  const levels = spans[search.span]!.levels;
  if (!levels) return;
  if (bar[rise.peak]! - bar[rise.valley]! < swingShare(rows) * (levels.cutOutBar - levels.cutInBar)) return;
  const reached = reachesCutOut(rows, rise, levels, seenTo);
  const startRow = startRowOf(rows, rise, levels);
  const running = search.running && !restsBefore(rows, rise, startRow);
  if (running || !reachesCutIn(rows, rise, startRow, levels)) {
    if (running && reached) {
      runs[runs.length - 1] = { ...runs[runs.length - 1]!, ...stopOf(rows, rise) };
      search.running = false;
    }
    return;
  }
  if (startRow <= search.stretchRow || maybeChance(rows, rise)) return;
  runs.push({
    startMs: rows.timeMs[startRow]!,
    startRow,
    cutInBar: rows.calmBar[startRow]!,
    ...(reached ? stopOf(rows, rise) : {}),
  });
  search.running = !reached;
}

function swingShare({ intervalMs }: Grain): number {
  return intervalMs > COARSE_MS ? COARSE_SWING_SHARE : SWING_SHARE;
}

/** In long quiet spells noise alone spans several times its deviation, but not within a few rows. */
function maybeChance(rows: ReadRows, rise: Rise): boolean {
  const swing = rows.bar[rise.peak]! - rows.bar[rise.valley]!;
  return swing < CERTAIN_IN_NOISE * rows.noiseBar && rise.peak - rise.valley > CHANCE_RISE_ROWS;
}

/** Between two rows the pressure may have gone on as it was going: at 10 s the turn itself is seldom caught. */
function reachesCutIn(rows: ReadRows, rise: Rise, startRow: number, levels: SwitchLevels): boolean {
  const valley = Math.min(rows.bar[rise.valley]!, rows.calmBar[rise.valley]!);
  const going = rise.valley > rise.fromPeak ? Math.max(0, rows.bar[rise.valley - 1]! - valley) : 0;
  if (valley - going <= levels.cutInBar + levelTolerance(rows, levels)) return true;
  if (rows.intervalMs <= COARSE_MS) return false;
  const band = levels.cutOutBar - levels.cutInBar;
  const fast = rows.bar[Math.min(startRow + 1, rise.peak)]! - valley >= COARSE_SWING_SHARE * band;
  return fast && valley <= levels.cutInBar + COARSE_CUT_IN_SHARE * band;
}

/** Whether the pressure stood still for so long before a rise that no pump can have been on, though its stop fell between rows. */
function restsBefore({ timeMs, bar, noiseBar, intervalMs }: ReadRows, { fromPeak }: Rise, startRow: number): boolean {
  if (intervalMs <= COARSE_MS) return false;
  let row = startRow;
  while (row > fromPeak && Math.abs(bar[row - 1]! - bar[startRow]!) <= STILL_IN_NOISE * noiseBar) row--;
  return timeMs[startRow]! - timeMs[row]! >= RUN_ON_MS;
}

function reachesCutOut(rows: ReadRows, rise: Rise, levels: SwitchLevels, to: number): boolean {
  const peak = Math.max(rows.bar[rise.peak]!, rows.calmBar[rise.peak]!);
  const rising = Math.max(0, peak - rows.bar[rise.peak - 1]!);
  const seenToEnd = rise.peak < to - 1;
  return seenToEnd && peak + rising >= levels.cutOutBar - CUT_OUT_SHARE * (levels.cutOutBar - levels.cutInBar);
}
