import { median, quantile } from '../statistics/quantile.ts';
import { outermostRow } from './channel-runs.ts';
import { longestChannelStepMs, type OnSpell } from './channel-spells.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** The least flow through a pump, l/min: under it meters creep. Common practice, no source. */
const LEAST_LPM = 0.5;
/** So much of the way from what the meter shows at rest to what it shows in a run, the pump runs. */
const ON_SHARE = 0.1;
/** What the meter shows at rest, and in strong runs, as quantiles of the channel and of its flows. */
const REST_QUANTILE = 0.1;
const STRONG_QUANTILE = 0.9;
/** A meter that never shows less than this part of its strong flows never shows a rest. */
const NO_REST_SHARE = 0.5;
/** No pump of a house gives less while it fills a vessel, l/min: so long may a coarse meter wait for its next step. Common practice, no source. */
const SLOWEST_FILL_LPM = 2;

/** What a meter on the pump's line shows at rest and in a run, from a whole log. */
export interface MeterHabits {
  /** Between two values of the channel. */
  readonly intervalMs: number;
  /** Flow from which on the pump runs, l/min. */
  readonly leastLpm: number;
  /** Flow in the middle of its runs, l/min. */
  readonly usualLpm: number;
  /** A pause no longer than this is the meter's own: it counts whole steps. */
  readonly pauseMs: number;
}

/** The runs that a meter on the pump's line shows. */
export interface MeteredRuns {
  /** Those with a start that was seen. */
  readonly runs: PumpRun[];
  /** All of them. */
  readonly spells: OnSpell[];
}

/**
 * How a meter on the pump's line behaves; undefined where it shows no flow, or never a rest. Sorts the channel.
 * @param lpm means over the interval that ends at each time, NaN where there is none
 */
export function meterHabits(timeMs: Float64Array, lpm: Float64Array, intervalMs: number): MeterHabits | undefined {
  const shown = lpm.filter((value) => !Number.isNaN(value));
  const flows = shown.filter((value) => value >= LEAST_LPM);
  if (flows.length === 0) return undefined;
  const restLpm = Math.max(0, quantile(shown, REST_QUANTILE));
  const strongLpm = quantile(flows, STRONG_QUANTILE);
  if (restLpm > NO_REST_SHARE * strongLpm) return undefined;
  const leastLpm = Math.max(LEAST_LPM, restLpm + ON_SHARE * (strongLpm - restLpm));
  const ownMs = Math.max(intervalMs, intervalOf(timeMs, lpm));
  const stepLitres = (flows.reduce((least, value) => Math.min(least, value), strongLpm) * ownMs) / 60_000;
  const stepMs = (60_000 * stepLitres) / SLOWEST_FILL_LPM;
  // The least flow of a fine meter is a small one; only where even that takes longer than a row does it count steps.
  const pauseMs = isStepped(flows) && stepMs > 1.5 * ownMs ? stepMs : 0;
  return { intervalMs: ownMs, leastLpm: pauseMs > 0 ? LEAST_LPM : leastLpm, usualLpm: median(flows), pauseMs };
}

/**
 * A pump's runs from a meter on its own line, before the vessel: there water flows while the pump runs and at no other time.
 * A start lies within the row in which flow begins, by the part of that row's flow that the next one has; a run within one row
 * lasts as long as its litres take at the usual flow, in the middle of that row. Linear time.
 * @param atOutlet whether `rows` are the pressure behind the pump, which turns where a run begins and ends
 */
export function meteredRuns(
  timeMs: Float64Array,
  lpm: Float64Array,
  rows: PumpRows,
  habits: MeterHabits,
  atOutlet = false,
): MeteredRuns {
  const spells = flowSpells(timeMs, lpm, habits);
  let row = 0;
  const rowAt = (atMs: number): number => {
    while (row > 0 && rows.timeMs[row]! > atMs) row--;
    while (row + 1 < rows.timeMs.length && rows.timeMs[row + 1]! <= atMs) row++;
    return row;
  };
  /** Behind the pump the pressure turns where flow begins or ends. */
  const turnAt = (atMs: number, direction: 1 | -1): { row: number; bar?: number } => {
    const near = rowAt(atMs);
    const turn = atOutlet ? outermostRow(rows, near, atMs, direction) : undefined;
    return turn === undefined ? { row: near } : { row: turn, bar: rows.calmBar[turn]! };
  };
  const runs = spells.flatMap(({ startMs, endMs, startSeen, stopSeen }): PumpRun[] => {
    if (!startSeen) return [];
    const start = turnAt(startMs, -1);
    const run = { startMs, startRow: start.row, ...(start.bar === undefined ? {} : { cutInBar: start.bar }) };
    if (!stopSeen) return [run];
    const stop = turnAt(endMs, 1);
    return [{ ...run, stopMs: endMs, stopRow: stop.row, ...(stop.bar === undefined ? {} : { cutOutBar: stop.bar }) }];
  });
  return { runs, spells };
}

function flowSpells(timeMs: Float64Array, lpm: Float64Array, habits: MeterHabits): OnSpell[] {
  const { intervalMs, leastLpm, pauseMs } = habits;
  const longestStepMs = longestChannelStepMs(intervalMs);
  const spells: OnSpell[] = [];
  /** Known values of the open spell: from its first to its last with flow. */
  let open: { at: number[]; startSeen: boolean } | undefined;
  let lastOn = 0;
  let before = -1;
  const close = (stopSeen: boolean): void => {
    if (open) spells.push(spellOf(timeMs, lpm, open.at.slice(0, lastOn + 1), open.startSeen, stopSeen, habits));
    open = undefined;
  };
  for (let i = 0; i < timeMs.length; i++) {
    if (Number.isNaN(lpm[i]!)) continue;
    const afterGap = before < 0 || timeMs[i]! - timeMs[before]! > longestStepMs;
    if (afterGap) close(false);
    const on = lpm[i]! >= leastLpm;
    if (on) {
      open ??= { at: [], startSeen: !afterGap };
      open.at.push(i);
      lastOn = open.at.length - 1;
    } else if (open) {
      if (timeMs[i]! - timeMs[open.at[lastOn]!]! > pauseMs) close(true);
      else open.at.push(i);
    }
    before = i;
  }
  close(false);
  return spells;
}

/** Start and stop within the rows at the edges of a spell, by what part of them flowed. */
function spellOf(
  timeMs: Float64Array,
  lpm: Float64Array,
  at: readonly number[],
  startSeen: boolean,
  stopSeen: boolean,
  { intervalMs, usualLpm, pauseMs }: MeterHabits,
): OnSpell {
  const first = at[0]!;
  const last = at[at.length - 1]!;
  const told = { startSeen, stopSeen };
  const part = (i: number, fullLpm: number): number => intervalMs * Math.min(1, lpm[i]! / fullLpm);
  // A meter that counts steps says at each that some flowed since the last: no part of a row is known.
  if (pauseMs > 0) return { ...told, startMs: timeMs[first]! - intervalMs, endMs: timeMs[last]! };
  if (at.length === 1) {
    const idleMs = (intervalMs - part(first, usualLpm)) / 2;
    return { ...told, startMs: timeMs[first]! - intervalMs + idleMs, endMs: timeMs[first]! - idleMs };
  }
  const inside = at.length > 2;
  const fullAtStart = inside ? lpm[at[1]!]! : Math.max(usualLpm, lpm[first]!, lpm[last]!);
  const fullAtEnd = inside ? lpm[at[at.length - 2]!]! : fullAtStart;
  return {
    ...told,
    startMs: Math.round(timeMs[first]! - part(first, fullAtStart)),
    endMs: Math.round(timeMs[last]! - intervalMs + part(last, fullAtEnd)),
  };
}

/** Few different flows, all whole multiples of the least one: the meter counts steps. */
function isStepped(flows: Float64Array): boolean {
  const least = flows.reduce((one, value) => Math.min(one, value), Number.POSITIVE_INFINITY);
  return flows.every((value) => Math.abs(value / least - Math.round(value / least)) < 0.02);
}

function intervalOf(timeMs: Float64Array, lpm: Float64Array): number {
  const steps: number[] = [];
  let last = Number.NaN;
  for (let i = 0; i < timeMs.length; i++) {
    if (Number.isNaN(lpm[i]!)) continue;
    if (!Number.isNaN(last)) steps.push(timeMs[i]! - last);
    last = timeMs[i]!;
  }
  return steps.length === 0 ? 0 : median(steps);
}
