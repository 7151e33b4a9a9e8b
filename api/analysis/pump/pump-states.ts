import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { localText } from '../../../collector/model/local-time.ts';
import type { AnalysisSite, PumpState, PumpStateKind } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import type { SwitchLevels, SwitchLevelsSpan } from './switch-levels.ts';

/** Ordinary draws seldom keep a pump on for longer without a pause. Common practice, no source. */
export const RUN_ON_MS = 20 * 60_000;
/** A pressure below cut-in for longer isn't a pump spinning up. */
export const HELD_LOW_MS = 60_000;
export const HELD_LOW_ROWS = 3;
/** How far below cut-in, as part of the band, counts. */
export const BELOW_SHARE = 0.25;
/** A pump that lifts anything holds more than this part of cut-in. */
export const LIFTS_SHARE = 0.6;
/** Taps are shut now and then within a run of so long: a pump that lifts then comes above its cut-in. */
export const MOST_OF_RUN = 0.95;
/** This near cut-out, as part of the band, a pump that is still on does not stop. */
export const AT_TOP_SHARE = 0.1;
/** Nor does a switch let it run for so long above cut-out, whatever is drawn before and after. Common practice, no source. */
export const HELD_HIGH_MS = 60_000;
/** No household draws for longer at a stretch: a pool that fills for hours. Common practice, no source. */
export const LONGEST_DEMAND_MS = 5 * 3_600_000;
/** What a plant holds, and the part of it below which its switch would have closed long ago. Common practice, no source. */
const HELD_QUANTILE = 0.9;
export const NO_SWITCH_WAITS_SHARE = 0.5;
/** Part of a run's rows in which a channel must say so. */
const ON_SHARE = 0.9;
/** Starts so near a spell tell where the switch turns about then; the lower ones of them, but for a few after failures. */
const STARTS_NEAR_MS = 12 * 3_600_000;
const FEWEST_STARTS = 8;
const LOW_STARTS = 0.2;
const COARSE_MS = 4_000;
const HOUR_MS = 3_600_000;
/** Starts outside the hours this near one another are one spell. */
const SAME_SPELL_MS = HOUR_MS;

interface OnChannel {
  readonly timeMs: Float64Array;
  readonly on: Float64Array;
}

/**
 * Spells in which the pump doesn't do what it is there for, ascending by start. Linear time.
 * @param runs those with a start that was seen
 * @param judged all, also those that the log's ends or a gap cut
 */
export function pumpStates(
  rows: PumpRows,
  runs: readonly PumpRun[],
  judged: readonly PumpRun[],
  spans: readonly SwitchLevelsSpan[],
  channel: OnChannel | undefined,
  site: AnalysisSite,
  boostedAt: (atMs: number) => boolean,
): PumpState[] {
  const long = longRuns(rows, judged, spans, channel);
  const low = heldLow(rows, spans, channel).filter(
    (state) =>
      boostedAt(Date.parse(state.start)) &&
      liesBelowStarts(rows, runs, state) &&
      !long.some((run) => state.start < run.end && state.end > run.start),
  );
  return [
    ...long,
    ...low,
    ...neverStarted(rows, judged, spans, channel, site),
    ...tooManyStarts(runs, site.pump),
    ...outsideHours(runs, site),
  ].sort((a, b) => (a.start < b.start ? -1 : 1));
}

function stateOf(kind: PumpStateKind, startMs: number, endMs: number, value: number, reason: string): PumpState {
  return { kind, start: formatRfc3339(startMs), end: formatRfc3339(endMs), value, reason };
}

function longRuns(
  rows: PumpRows,
  runs: readonly PumpRun[],
  spans: readonly SwitchLevelsSpan[],
  channel: OnChannel | undefined,
): PumpState[] {
  const states: PumpState[] = [];
  const hasChannel = channel !== undefined;
  // Between coarse rows the end of a run is easily missed: then only a channel says that it went on.
  if (!hasChannel && rows.intervalMs > COARSE_MS) return states;
  for (const run of runs) {
    if (run.stopMs === undefined || run.stopRow === undefined || run.stopMs - run.startMs < RUN_ON_MS) continue;
    const levels = levelsAt(spans, run.startMs);
    if (channel && shareOn(channel, run.startMs, run.stopMs) < ON_SHARE) continue;
    if (!levels) {
      const endless = endlessRun(rows, run, channel);
      if (endless) states.push(endless);
      continue;
    }
    const during = rows.bar.subarray(run.startRow, run.stopRow + 1);
    const held = median(during);
    const bandBar = levels.cutOutBar - levels.cutInBar;
    const minutes = Math.round((run.stopMs - run.startMs) / 60_000);
    const atTop = held >= levels.cutOutBar - AT_TOP_SHARE * bandBar;
    const highMs = hasChannel ? aboveMs(rows, run.startRow, run.stopRow, levels.cutOutBar) : 0;
    if (hasChannel && (atTop || highMs >= HELD_HIGH_MS)) {
      states.push(
        stateOf(
          'did_not_stop',
          run.startMs,
          run.stopMs,
          held,
          atTop
            ? `The pump went on for ${minutes} min at ${held.toFixed(2)} bar though it stops at ${levels.cutOutBar.toFixed(2)} bar.`
            : `The pump went on for ${minutes} min, for ${Math.round(highMs / 60_000)} of them above the ${levels.cutOutBar.toFixed(2)} bar at which it stops.`,
        ),
      );
    } else if (hasChannel && quantile(during, MOST_OF_RUN) < levels.cutInBar) {
      states.push(stateOf('no_rise', run.startMs, run.stopMs, held, noRiseText(minutes, held)));
    } else {
      states.push(
        stateOf(
          'runs_on',
          run.startMs,
          run.stopMs,
          held,
          `The pump ran for ${minutes} min at ${held.toFixed(2)} bar without reaching ${levels.cutOutBar.toFixed(2)} bar: ` +
            'more was drawn than it gives, or it is worn.',
        ),
      );
    }
  }
  return states;
}

/** For how long in all readings lie above a level by more than noise. */
function aboveMs({ calmBar, calmNoiseBar, intervalMs }: PumpRows, from: number, to: number, levelBar: number): number {
  let above = 0;
  for (let i = from; i <= to; i++) if (calmBar[i]! > levelBar + 2 * calmNoiseBar) above++;
  return above * intervalMs;
}

/** A longer run than any draw asks for: told where no level of the switch is known, too. */
function endlessRun(rows: PumpRows, run: PumpRun, channel: OnChannel | undefined): PumpState | undefined {
  const { startMs, startRow, stopMs, stopRow, startUnseen, stopUnseen } = run;
  if (!channel || stopMs === undefined || stopRow === undefined) return undefined;
  if (stopMs - startMs < LONGEST_DEMAND_MS) return undefined;
  const held = median(rows.bar.subarray(startRow, stopRow + 1));
  const ends = [
    startUnseen ? 'it was on when the readings began' : '',
    stopUnseen ? 'it was on when they ended' : '',
  ].filter((text) => text !== '');
  const at = Number.isFinite(held) ? `, the pressure at ${held.toFixed(2)} bar` : '';
  return stateOf(
    'did_not_stop',
    startMs,
    stopMs,
    Number.isFinite(held) ? held : 0,
    `The pump was on for ${Math.round((stopMs - startMs) / 60_000)} min without a pause${at}` +
      `${ends.length > 0 ? `: ${ends.join(', and ')}` : ''}.`,
  );
}

/**
 * Spells of a pump that was never seen to run, at less than half of the pressure that it was seen to hold: its cut-in isn't
 * known then, but no switch waits for so little.
 */
function neverStarted(
  rows: PumpRows,
  judged: readonly PumpRun[],
  spans: readonly SwitchLevelsSpan[],
  channel: OnChannel | undefined,
  { sensor }: AnalysisSite,
): PumpState[] {
  if (sensor.position !== 'pump_outlet' || !channel || judged.length > 0 || rows.bar.length === 0) return [];
  if (spans.some(({ levels }) => levels)) return [];
  const heldBar = quantile(rows.bar, HELD_QUANTILE);
  const states: PumpState[] = [];
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    let first = -1;
    for (let i = rows.stretchFrom[s]!; i <= rows.stretchFrom[s + 1]!; i++) {
      if (i < rows.stretchFrom[s + 1]! && rows.calmBar[i]! < NO_SWITCH_WAITS_SHARE * heldBar) {
        if (first < 0) first = i;
        continue;
      }
      if (first >= 0) {
        const startMs = rows.timeMs[first]!;
        const endMs = rows.timeMs[i - 1]! + rows.intervalMs;
        const low = median(rows.bar.subarray(first, i));
        if (endMs - startMs >= RUN_ON_MS) {
          states.push(
            stateOf(
              'did_not_start',
              startMs,
              endMs,
              low,
              `For ${Math.round((endMs - startMs) / 60_000)} min the pressure stayed at ${low.toFixed(2)} bar, less than half of the ` +
                `${heldBar.toFixed(2)} bar that it held otherwise, and the pump’s channel never said on. Its cut-in isn’t known from this log.`,
            ),
          );
        }
      }
      first = -1;
    }
  }
  return states;
}

function noRiseText(minutes: number, held: number): string {
  return (
    `The pump ran for ${minutes} min at ${held.toFixed(2)} bar without lifting: it turns dry or holds air. ` +
    'A pump that turns dry is damaged within minutes.'
  );
}

/**
 * Whether a spell lies below where the pump is seen to start about then. A switch turns where its readings are caught, not
 * at one level: of cycles as quick as the rows many a valley lies higher than cut-in, and a vessel may rest just above it.
 */
function liesBelowStarts(rows: PumpRows, runs: readonly PumpRun[], { start, value }: PumpState): boolean {
  const atMs = Date.parse(start);
  const near: number[] = [];
  for (const { startMs, cutInBar } of runs) {
    if (cutInBar !== undefined && Math.abs(startMs - atMs) <= STARTS_NEAR_MS) near.push(cutInBar);
  }
  if (near.length < FEWEST_STARTS) return true;
  return value < quantile(near, LOW_STARTS) - 2 * rows.calmNoiseBar;
}

/** Spells in which the pressure stays well below cut-in. */
function heldLow(rows: PumpRows, spans: readonly SwitchLevelsSpan[], channel: OnChannel | undefined): PumpState[] {
  const states: PumpState[] = [];
  let span = 0;
  let untilMs = Number.NEGATIVE_INFINITY;
  let lowBar = Number.NEGATIVE_INFINITY;
  for (let s = 0; s + 1 < rows.stretchFrom.length; s++) {
    let first = -1;
    for (let i = rows.stretchFrom[s]!; i <= rows.stretchFrom[s + 1]!; i++) {
      const inside = i < rows.stretchFrom[s + 1]!;
      if (inside && rows.timeMs[i]! >= untilMs) {
        while (span + 1 < spans.length && spans[span]!.toMs <= rows.timeMs[i]!) span++;
        untilMs = span + 1 < spans.length ? spans[span]!.toMs : Number.POSITIVE_INFINITY;
        lowBar = heldLowBelow(rows, spans[span]?.levels);
      }
      if (inside && rows.calmBar[i]! < lowBar) {
        if (first < 0) first = i;
        continue;
      }
      if (first >= 0) {
        const state = lowState(rows, first, i - 1, levelsAt(spans, rows.timeMs[first]!), channel);
        if (state) states.push(state);
      }
      first = -1;
    }
  }
  return states;
}

/** What lies well below cut-in; nothing does where no levels are known. */
function heldLowBelow(rows: PumpRows, levels: SwitchLevels | null | undefined): number {
  if (!levels) return Number.NEGATIVE_INFINITY;
  const band = levels.cutOutBar - levels.cutInBar;
  return levels.cutInBar - Math.max(BELOW_SHARE * band, 4 * rows.calmNoiseBar, 2 * rows.quantumBar);
}

function lowState(
  rows: PumpRows,
  from: number,
  to: number,
  levels: SwitchLevels | null,
  channel: OnChannel | undefined,
): PumpState | undefined {
  const startMs = rows.timeMs[from]!;
  const endMs = rows.timeMs[to]! + rows.intervalMs;
  if (!levels || endMs - startMs < HELD_LOW_MS || to - from + 1 < HELD_LOW_ROWS) return undefined;
  const held = median(rows.bar.subarray(from, to + 1));
  const minutes = Math.max(1, Math.round((endMs - startMs) / 60_000));
  const lifts = held >= LIFTS_SHARE * levels.cutInBar;
  const onShare = channel ? shareOn(channel, startMs, endMs) : undefined;
  const text = `For ${minutes} min the pressure stayed at ${held.toFixed(2)} bar, below the cut-in of ${levels.cutInBar.toFixed(2)} bar`;
  if (onShare !== undefined && onShare < 0.5) {
    return stateOf('did_not_start', startMs, endMs, held, `${text}, and the pump didn’t start.`);
  }
  if (lifts) return stateOf('runs_on', startMs, endMs, held, `${text}: more was drawn than the pump gives.`);
  if (onShare !== undefined) return stateOf('no_rise', startMs, endMs, held, noRiseText(minutes, held));
  return stateOf(
    'did_not_start',
    startMs,
    endMs,
    held,
    `${text}: the pump didn’t start, or it turned without lifting (dry or air-locked). A channel that tells when it ` +
      'runs would settle which.',
  );
}

function shareOn({ timeMs, on }: OnChannel, fromMs: number, toMs: number): number {
  let low = 0;
  let high = timeMs.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timeMs[middle]! < fromMs) low = middle + 1;
    else high = middle;
  }
  let known = 0;
  let running = 0;
  for (let i = low; i < timeMs.length && timeMs[i]! < toMs; i++) {
    if (Number.isNaN(on[i]!)) continue;
    known++;
    if (on[i]! >= 0.5) running++;
  }
  return known === 0 ? 0 : running / known;
}

export function levelsAt(spans: readonly SwitchLevelsSpan[], atMs: number): SwitchLevels | null {
  // A live log goes on after the last span: its levels hold on.
  return (spans.find(({ toMs }) => atMs < toMs) ?? spans[spans.length - 1])?.levels ?? null;
}

/**
 * Hours, rolling, with more starts than the limit; those that overlap are one spell with the worst hour's count. The limit
 * is the motor's own: NEMA MG 10 gives 30 for a four-pole motor of 1 hp, makers of small sets name 20 to 60; none is assumed.
 */
function tooManyStarts(runs: readonly PumpRun[], pump: AnalysisSite['pump']): PumpState[] {
  const limit = pump?.mostStartsPerHour;
  if (limit === undefined) return [];
  const source = pump?.startsLimitSource === undefined ? '' : ` (${pump.startsLimitSource})`;
  const spells: { fromMs: number; toMs: number; most: number }[] = [];
  let first = 0;
  for (let k = 0; k < runs.length; k++) {
    while (runs[k]!.startMs - runs[first]!.startMs >= HOUR_MS) first++;
    const count = k - first + 1;
    if (count <= limit) continue;
    const last = spells[spells.length - 1];
    if (last && runs[first]!.startMs <= last.toMs) {
      last.toMs = runs[k]!.startMs;
      last.most = Math.max(last.most, count);
    } else spells.push({ fromMs: runs[first]!.startMs, toMs: runs[k]!.startMs, most: count });
  }
  return spells.map(({ fromMs, toMs, most }) =>
    stateOf(
      'too_many_starts',
      fromMs,
      toMs,
      most,
      `${most} starts within an hour; the limit set for this pump is ${limit}${source}.`,
    ),
  );
}

function outsideHours(runs: readonly PumpRun[], site: AnalysisSite): PumpState[] {
  const hours = site.pump?.allowedHours;
  if (!hours) return [];
  const [from, to] = hours;
  const allowed = (atMs: number): boolean => {
    const hour = Number(localText(atMs, site.timeZone, 'H')) + Number(localText(atMs, site.timeZone, 'm')) / 60;
    return from <= to ? hour >= from && hour < to : hour >= from || hour < to;
  };
  const spells: { fromMs: number; toMs: number; count: number }[] = [];
  for (const run of runs) {
    if (allowed(run.startMs)) continue;
    const last = spells[spells.length - 1];
    if (last && run.startMs - last.toMs <= SAME_SPELL_MS) {
      last.toMs = run.stopMs ?? run.startMs;
      last.count++;
    } else spells.push({ fromMs: run.startMs, toMs: run.stopMs ?? run.startMs, count: 1 });
  }
  return spells.map(({ fromMs, toMs, count }) =>
    stateOf(
      'outside_hours',
      fromMs,
      toMs,
      count,
      `${count === 1 ? 'One start' : `${count} starts`} outside the hours from ${from} to ${to}.`,
    ),
  );
}
