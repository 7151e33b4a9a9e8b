import type { Change, MeterPlace } from '../findings.ts';
import { boosterChanges } from './booster-change.ts';
import { channelRuns, withShortRuns } from './channel-runs.ts';
import { type OnSpell, onSpells } from './channel-spells.ts';
import type { PumpChunk, PumpParameters } from './findings-of-runs.ts';
import { withFirstFills } from './first-fill.ts';
import { joinedByInlet } from './joined-by-inlet.ts';
import { meterPlace } from './meter-place.ts';
import { type MeteredRuns, meteredRuns } from './metered-runs.ts';
import type { PumpMemory } from './pump-memory.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { gapsOfChannel, gapsOfRows, type LogGap } from './start-figures.ts';

/** A pressure that shows fewer than this part of the runs that a meter sees tells nothing of them. */
const PRESSURE_TELLS_SHARE = 0.5;

/** Values of one column with their times, NaN where there is none. */
export interface TimedColumn {
  readonly timeMs: Float64Array;
  readonly values: Float64Array;
}

export interface KnownRuns {
  readonly runs: readonly PumpRun[];
  /** The booster's coming and going. */
  readonly changes: Change[];
  /** What told them: the pump's own channel goes before a meter on its line, and that before the pressure. */
  readonly by: 'channel' | 'flow' | 'pressure';
  /** The column that told them; undefined for the pressure. */
  readonly column: TimedColumn | undefined;
  /** Stretches of that column in which the pump ran, also those whose ends aren't seen. */
  readonly spells: readonly OnSpell[];
  readonly gaps: readonly LogGap[];
  readonly meter: MeterPlace | 'unknown';
  /** What the household draws, where a meter shows that. */
  readonly drawn: { readonly timeMs: Float64Array; readonly lpm: Float64Array } | undefined;
  /** Whether the pressure behind the pump shows what it does. */
  readonly pressureTells: boolean;
}

/** The pump's runs by what is known of them, and the booster's coming and going. */
export function knownRuns(
  input: PumpChunk,
  rows: PumpRows,
  shown: readonly PumpRun[],
  { site, meterHabits, meter: toldMeter }: PumpParameters,
  memory: PumpMemory,
): KnownRuns {
  const { timeMs, pumpOn, flowLpm, inletBar } = input;
  const atOutlet = site.sensor.position === 'pump_outlet';
  const flow = flowLpm && { timeMs, lpm: flowLpm };
  const seen = atOutlet ? shown : [];
  const meter = toldMeter ?? meterPlace(site, rows, seen, flow, meterHabits);
  const drawn = meter === 'pump' ? undefined : flow;
  const changesOf = (runs: readonly PumpRun[]): Change[] =>
    atOutlet ? boosterChanges(rows, runs, memory.hours, memory.settledRows) : [];
  if (pumpOn?.some((value) => !Number.isNaN(value))) {
    const told = channelRuns(timeMs, pumpOn, rows, atOutlet);
    const runs = atOutlet ? withShortRuns(told, shown, rows) : told;
    return {
      runs,
      changes: changesOf(runs),
      by: 'channel',
      column: { timeMs, values: pumpOn },
      spells: onSpells(timeMs, pumpOn, rows.intervalMs),
      gaps: gapsOfChannel(timeMs, pumpOn, rows.intervalMs),
      meter,
      drawn,
      pressureTells: atOutlet,
    };
  }
  if (meter === 'pump' && flow && meterHabits) {
    const metered = meteredRuns(timeMs, flow.lpm, rows, meterHabits, atOutlet);
    const seenToo = seen.filter((run) => isMetered(run, metered, flow));
    const pressureTells = atOutlet && seenToo.length >= PRESSURE_TELLS_SHARE * metered.runs.length;
    const runs = pressureTells ? withShortRuns(metered.runs, seenToo, rows) : metered.runs.map(withoutLevels);
    return {
      runs,
      changes: pressureTells ? changesOf(runs) : [],
      by: 'flow',
      column: { timeMs, values: flow.lpm },
      spells: metered.spells,
      gaps: gapsOfChannel(timeMs, flow.lpm, meterHabits.intervalMs),
      meter,
      drawn,
      pressureTells,
    };
  }
  const whole = inletBar ? joinedByInlet(seen, rows, { timeMs, bar: inletBar }) : seen;
  const changes = changesOf(whole);
  const runs = withFirstFills(rows, withoutBareStarts(whole, changes), changes);
  return {
    runs,
    changes,
    by: 'pressure',
    column: undefined,
    spells: [],
    gaps: gapsOfRows(rows),
    meter,
    drawn,
    pressureTells: atOutlet,
  };
}

/** Whether a booster was there at a time, by its comings and goings. */
export function boostedAt(changes: readonly Change[], atMs: number): boolean {
  let boosted = changes.length === 0 || changes[0]!.toBar < changes[0]!.fromBar;
  for (const change of changes) if (Date.parse(change.at) <= atMs) boosted = change.toBar > change.fromBar;
  return boosted;
}

/** Rises seen while no booster was there are the street's and the taps'. */
function withoutBareStarts(runs: readonly PumpRun[], changes: readonly Change[]): PumpRun[] {
  return runs.filter((run) => boostedAt(changes, run.startMs));
}

/** A rise of the pressure in which no water passed the pump is none of its runs; where the meter is silent it may be one. */
function isMetered(
  { startMs, stopMs = startMs }: PumpRun,
  { spells }: MeteredRuns,
  { timeMs, lpm }: { readonly timeMs: Float64Array; readonly lpm: Float64Array },
): boolean {
  const from = firstFrom(spells.length, (k) => spells[k]!.endMs >= startMs);
  if (from < spells.length && spells[from]!.startMs <= stopMs) return true;
  for (let i = firstFrom(timeMs.length, (k) => timeMs[k]! > startMs); i < timeMs.length; i++) {
    if (!Number.isNaN(lpm[i]!)) return false;
    if (timeMs[i]! > stopMs) break;
  }
  return true;
}

/** The first index for which a condition holds that holds for all after it. */
function firstFrom(length: number, holds: (index: number) => boolean): number {
  let low = 0;
  let high = length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (holds(middle)) high = middle;
    else low = middle + 1;
  }
  return low;
}

function withoutLevels({ cutInBar: _in, cutOutBar: _out, ...run }: PumpRun): PumpRun {
  return run;
}
