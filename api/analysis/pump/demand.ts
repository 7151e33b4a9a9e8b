import { median, quantile } from '../statistics/quantile.ts';
import { unlikeRests } from './alike-rests.ts';
import { drawsInFlow, leastDrawLpm } from './draws-in-flow.ts';
import { levelAround, outflowIndex, type Rest, type SteadyOutflow, steadyOutflow } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { type RestingProfile, restingMs, restingProfile } from './resting-profile.ts';
import { restBefore, restsAfterAll } from './rests.ts';
import { type EvenOutflow, evenOutflow } from './steps-at-rest.ts';

/** A rest that lost this many times what a steady outflow would have taken was drawn from. */
const MEAN_RATIO = 1.8;
/** Within a rest, a spell this many times as fast as the steady outflow is a draw: a leak's own slope varies by less. */
const SPELL_RATIO = 2.8;
/** Nothing but a draw empties a vessel in so little. Common practice, no source. */
const DRAWN_AT_ONCE_MS = 3_500;
/** Nor does anything else fill and empty it within this. Common practice, no source. */
const DRAWN_CYCLE_MS = 8_000;
/** A rest of fewer rows than this doesn't show its own turns. */
const BRIEF_ROWS = 5;
/** A quick draw shows best over a short spell, a small one under noise over a longer one. */
const SPELLS_MS = [6_000, 16_000];
/** A spell must take this part of the band: less is a dripping, not a draw. */
const SPELL_SHARE = 0.035;
/** Just after the pump stops, the pressure settles by itself: what it loses then is compared with other rests. */
const SETTLING_MS = 2_500;
const FIRST_MS = 6_000;
const FIRST_AVERAGED = 6;
/** Part of the rests that settle with nobody drawing: cycling without demand goes on at night. */
const SETTLING_QUANTILE = 0.25;
/** From there to the last twentieth is about one standard deviation of the settling. */
const SETTLING_SCATTERS = 3.5;
/** Up to this interval a flow channel alone decides. */
const FLOW_DECIDES_MS = 2_500;

/** What a plant's rests are usually like, from a whole log. A live watch has those of the last full analysis. */
export interface RestHabits {
  /** From the usual cut-in to the usual cut-out; nought where they aren't known. */
  readonly bandBar: number;
  /** The same as an outflow index. */
  readonly bandIndex: number;
  readonly profile: RestingProfile;
  readonly even: EvenOutflow;
  /** What rests usually lose in their first seconds beyond the steady outflow, and how much more is a draw, in bar. */
  readonly settling: number;
  readonly leastFirst: number;
  /** Flow that counts as a draw, l/min; undefined where no channel tells. */
  readonly leastDrawLpm: number | undefined;
}

interface Flow {
  readonly timeMs: Float64Array;
  readonly lpm: Float64Array;
}

/** Estimates how a plant rests from all runs of a log. */
export function restHabits(rows: PumpRows, runs: readonly PumpRun[], flow: Flow | undefined): RestHabits {
  const { rests, steady } = restsFrom(rows, runs, 0);
  const cutIns = runs.flatMap((run) => run.cutInBar ?? []);
  const cutOuts = runs.flatMap((run) => run.cutOutBar ?? []);
  const bandBar = cutIns.length > 0 && cutOuts.length > 0 ? Math.max(0, median(cutOuts) - median(cutIns)) : 0;
  const bandIndex = bandBar > 0 ? outflowIndex(median(cutIns)) - outflowIndex(median(cutOuts)) : 0;
  const profile = bandBar > 0 ? restingProfile(rows, rests, steady, median(cutIns), median(cutOuts)) : () => 1;
  const even = evenOutflow(profile, median(cutIns), median(cutOuts));
  const firstLosses = rests.map((rest) => firstLoss(rows, rest, steady));
  const settling = quantile(firstLosses, SETTLING_QUANTILE);
  const scatter = settling - quantile(firstLosses, 0.05);
  const leastFirst = Math.max(
    SETTLING_SCATTERS * scatter,
    3.5 * Math.hypot(rows.calmNoiseBar, rows.noiseBar / Math.sqrt(FIRST_AVERAGED)),
    1.5 * rows.quantumBar,
    SPELL_SHARE * bandBar,
  );
  return { bandBar, bandIndex, profile, even, settling, leastFirst, leastDrawLpm: flow && leastDrawLpm(flow.lpm) };
}

/** Rests before the runs from `first` on, and what flows away steadily about them. */
function restsFrom(rows: PumpRows, runs: readonly PumpRun[], first: number): { rests: Rest[]; steady: SteadyOutflow } {
  const rests = runs.slice(first).map((run, k) => restBefore(rows, runs[first + k - 1], run));
  const fromRow = first > 0 ? (rests[0]?.fromRow ?? 0) : 0;
  const after = restsAfterAll(rows, runs).filter((rest) => rest.fromRow >= fromRow);
  return { rests, steady: steadyOutflow(rows, [...rests, ...after]) };
}

/**
 * Marks each run from `first` on: on demand if the household has drawn since the pump's previous stop. A flow channel
 * decides where there is one; else the shape of the pressure at rest: a leak's slow and steady fall against a draw's fast
 * one. A mark rests on nothing further than `MARK_REACH_MS` from its start but the rest before it and the habits.
 */
export function markDemand(
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: Flow | undefined,
  habits: RestHabits = restHabits(rows, runs, flow),
  first = 0,
): PumpRun[] {
  const { rests, steady } = restsFrom(rows, runs, first);
  const byFlow = flow ? drawsInFlow(rows, flow, rests, habits.leastDrawLpm) : undefined;
  const { bandBar, bandIndex, profile, settling, leastFirst } = habits;
  const drawnAtFirst = (rest: Rest): boolean => firstLoss(rows, rest, steady) - Math.max(0, settling) > leastFirst;
  const marked = runs.slice(first);
  const told = marked.map((_, k) => byFlow?.(k));
  const drawn = marked.map(
    (run, k) =>
      told[k] ??
      (followsAtOnce(runs[first + k - 1], run) ||
        drawnFrom(rows, rests[k]!, steady, profile, bandBar, bandIndex) ||
        drawnAtFirst(rests[k]!)),
  );
  const unlike = unlikeRests(
    rows,
    rests,
    drawn.map((was) => !was),
    marked.map((run) => run.stopRow),
    habits.even,
  );
  // Between coarse rows a brief draw falls into an interval that also holds the run: there the rest's length decides.
  const flowDecides = rows.intervalMs <= FLOW_DECIDES_MS;
  return marked.map((run, k) => {
    const byMeter = told[k] === true || flowDecides ? told[k] : undefined;
    return { ...run, onDemand: byMeter ?? ((told[k] === undefined && drawn[k]!) || unlike[k]!) };
  });
}

/** The same by a flow channel alone, where the pressure isn't the one behind the pump; no mark where the meter is silent. */
export function markByFlow(
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: Flow,
  leastLpm = leastDrawLpm(flow.lpm),
): PumpRun[] {
  const rests = runs.map((run, k) => restBefore(rows, runs[k - 1], run));
  const byFlow = drawsInFlow(rows, flow, rests, leastLpm);
  return runs.map((run, k) => {
    const onDemand = byFlow(k);
    return onDemand === undefined ? run : { ...run, onDemand };
  });
}

function followsAtOnce(previous: PumpRun | undefined, run: PumpRun): boolean {
  if (!previous) return false;
  const restMs = run.startMs - (previous.stopMs ?? previous.startMs);
  return restMs <= DRAWN_AT_ONCE_MS || run.startMs - previous.startMs <= DRAWN_CYCLE_MS;
}

function drawnFrom(
  rows: PumpRows,
  rest: Rest,
  steady: SteadyOutflow,
  profile: RestingProfile,
  bandBar: number,
  bandIndex: number,
): boolean {
  const lengthMs = rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!;
  if (lengthMs <= DRAWN_AT_ONCE_MS) return true;
  const expected = steady(rest);
  const last = outflowIndex(levelAround(rows, rest.toRow, rest));
  const shown = last - outflowIndex(levelAround(rows, rest.fromRow, rest));
  // Of so few rows none need be near the turns: the switch's own band has gone by then.
  const gone = rest.toRow - rest.fromRow < BRIEF_ROWS ? Math.max(shown, bandIndex) : shown;
  if (gone > 0 && restingMs(profile, expected, last - gone, last) > MEAN_RATIO * lengthMs) return true;
  return SPELLS_MS.some((spellMs) => spellFound(rows, rest, expected, profile, spellMs, bandBar));
}

/** Whether the pressure falls anywhere in a rest by more than the steady outflow and noise explain within a spell. */
function spellFound(
  rows: PumpRows,
  rest: Rest,
  expected: number,
  profile: RestingProfile,
  lengthMs: number,
  bandBar: number,
): boolean {
  const spellRows = Math.max(1, Math.ceil(lengthMs / rows.intervalMs));
  const averaged = Math.max(1, Math.floor(spellRows / 2));
  const noiseBar = rows.noiseBar * Math.sqrt(2 / averaged);
  // The largest of many spells: their number grows with the rest, so the margin does too, slowly.
  const margin = 3 + 0.5 * Math.log10(Math.max(10, rest.toRow - rest.fromRow));
  const leastFall = Math.max(margin * noiseBar, 1.2 * rows.quantumBar, SPELL_SHARE * bandBar);
  let from = rest.fromRow;
  while (from < rest.toRow && rows.timeMs[from]! - rows.timeMs[rest.fromRow]! < SETTLING_MS) from++;
  const last = rest.toRow + 1 - averaged - spellRows;
  if (last < from) return false;
  let before = 0;
  let after = 0;
  for (let k = 0; k < averaged; k++) {
    before += rows.bar[from + k]!;
    after += rows.bar[from + spellRows + k]!;
  }
  for (let i = from; ; i++) {
    const high = before / averaged;
    const low = after / averaged;
    if (high - low >= leastFall) {
      const spellMs = rows.timeMs[i + spellRows]! - rows.timeMs[i]!;
      const middle = outflowIndex((low + high) / 2);
      const steadyLoss = expected * profile(middle) * spellMs;
      const loss = outflowIndex(low) - outflowIndex(high);
      const excessBar = (loss - steadyLoss) / middle ** 2;
      if (loss > SPELL_RATIO * steadyLoss && excessBar >= leastFall) return true;
    }
    if (i >= last) return false;
    before += rows.bar[i + averaged]! - rows.bar[i]!;
    after += rows.bar[i + spellRows + averaged]! - rows.bar[i + spellRows]!;
  }
}

/**
 * What a rest lost in its first seconds beyond the steady outflow, in bar: the tail of a draw that outlasted the run,
 * and the settling. NaN where the rest is too short to have first seconds.
 */
function firstLoss(rows: PumpRows, rest: Rest, steady: SteadyOutflow): number {
  const startMs = rows.timeMs[rest.fromRow]!;
  let to = rest.fromRow + 1;
  while (to < rest.toRow && rows.timeMs[to]! - startMs < FIRST_MS) to++;
  const count = Math.min(FIRST_AVERAGED, rest.toRow - to);
  if (count < 3) return Number.NaN;
  const first = Math.max(rows.calmBar[rest.fromRow]!, rows.calmBar[rest.fromRow + 1]!);
  let sum = 0;
  let time = 0;
  for (let i = to; i < to + count; i++) {
    sum += rows.bar[i]!;
    time += rows.timeMs[i]!;
  }
  const gone = outflowIndex(sum / count) - outflowIndex(first) - steady(rest) * (time / count - startMs);
  return gone / outflowIndex(first) ** 2;
}
