import type { AnalysisSite } from '../../../api/analysis/findings.ts';
import { FAMILIES } from './families.ts';
import { plannedOpenings } from './habits.ts';
import { runHydraulics, type TrueColumns } from './hydraulic-run.ts';
import { type LogPlan, ordinaryPlan } from './log-plan.ts';
import type { Opening } from './outlets.ts';
import { seeded } from './seeded.ts';
import { DAY_MS, type StreetEvent, streetColumn } from './street.ts';
import { type Logged, logRows, type Rows } from './transducer.ts';
import {
  neighbourSpans,
  type TrueChange,
  type Truth,
  trueDraws,
  trueLowSupply,
  trueSags,
  trueStanding,
} from './true-findings.ts';
import { WallClock } from './wall-clock.ts';
import { widen, widenOpenings, widenStreet } from './wide-plan.ts';

export interface LabelledLog {
  readonly name: string;
  readonly days: number;
  readonly intervalS: number;
  readonly metered: boolean;
  readonly rows: Rows;
  readonly site: AnalysisSite;
  readonly truth: Truth;
  readonly columns: TrueColumns;
}

/**
 * One log of a family: the street, the house, the device and what a perfect reader would find.
 * @param isWide draws shapes and ranges far beyond the family's own as well
 */
export function labelledLog(family: string, seed: number, isWide = false): LabelledLog {
  const chance = seeded(`${family}/${seed}`);
  const plan = ordinaryPlan(chance);
  FAMILIES[family]!(plan, chance);
  const other = seeded(`wide/${family}/${seed}`);
  const wide = isWide ? widen(plan, other) : undefined;
  const { startMs, intervalS, metered, sensor } = plan;
  const endMs = startMs + plan.days * DAY_MS;
  const clock = new WallClock(plan.timeZone);
  const planned = plan.events.flatMap((make) => make(startMs, endMs, clock));
  const events = wide?.sagForm ? planned.map((event) => inForm(event, wide.sagForm!)) : planned;
  const street = streetColumn({ ...plan, events }, startMs, plan.days * 86_400, clock, chance);
  if (wide) widenStreet(street, startMs, events, wide, other);
  const usual = plannedOpenings(plan.habits, startMs, endMs, clock, chance);
  const openings = wide ? widenOpenings(usual, wide, other) : usual;
  const neighbours = plan.neighbourOpeningsPerDay > 0 ? neighbourOpenings(plan, clock) : [];
  const columns = runHydraulics(startMs, street, openings, neighbours, plan.plumbing);
  const device = wide ? { filterS: wide.filterS, jitterMs: wide.jitterMs } : undefined;
  const logged = logRows(columns, sensor, metered, intervalS, plan.faults, chance, device);
  const neighbourDraws = neighbourSpans(columns, neighbours);
  const expandedBar = 2 * Math.sqrt(sensor.accuracyBar ** 2 / 3 + sensor.stepBar ** 2 / 12);
  const truth: Truth = {
    startMs,
    standingBar: trueStanding(columns, sensor, logged, metered ? [] : neighbourDraws),
    draws: trueDraws(columns, sensor, intervalS, logged, metered),
    neighbourDraws,
    sags: trueSags(columns, clock, plan.sagMinDepthBar, logged, metered ? [] : neighbourDraws),
    lowSupply: trueLowSupply(columns, plan.lowSupplyBar - sensor.zeroBar, expandedBar, logged.blind),
    faults: logged.faults,
    blind: logged.blind,
    changes: lastingChanges(plan, columns, events, logged),
  };
  const site: AnalysisSite = {
    timeZone: plan.timeZone,
    intervalS,
    sensor: {
      position: 'incoming',
      rangeBar: sensor.rangeBar,
      accuracyBar: sensor.accuracyBar,
      heightAboveSupplyPointM: 0,
    },
    hasFlowMeter: metered,
    thresholds: { lowSupplyBar: plan.lowSupplyBar, weakInletBar: 0.3, sagMinDepthBar: plan.sagMinDepthBar },
  };
  return {
    name: `${isWide ? 'w ' : ''}${family} ${seed}`,
    days: plan.days,
    intervalS,
    metered,
    rows: logged.rows,
    site,
    truth,
    columns,
  };
}

/** Sags and nights take the log's form; dips of minutes and lasting changes keep theirs. */
function inForm(event: StreetEvent, form: StreetEvent['form']): StreetEvent {
  const longEnough = event.endMs - event.startMs > 1_800_000;
  return event.form === 'lasting' || event.depthBar < 0 || !longEnough ? event : { ...event, form };
}

/** The house next door lives by the same habits with other chance. */
function neighbourOpenings(plan: LogPlan, clock: WallClock): Opening[] {
  const chance = seeded(`next door/${plan.startMs}/${plan.baseBar}`);
  const habits = {
    ...plan.habits,
    people: 2,
    busy: plan.neighbourOpeningsPerDay / 30,
    poolFills: 0,
    heightM: [0.2, 2] as const,
  };
  return plannedOpenings(habits, plan.startMs, plan.startMs + plan.days * DAY_MS, clock, chance);
}

const LASTING_MS = 3 * DAY_MS;
const DRAWING_ABOVE_LPM = 3;

function lastingChanges(
  plan: LogPlan,
  columns: TrueColumns,
  events: readonly StreetEvent[],
  logged: Logged,
): TrueChange[] {
  const { startMs, standingBar, runningBar, ownLpm } = columns;
  const endMs = startMs + standingBar.length * 1000;
  const median = (column: Float64Array, from: number, to: number, only: (s: number) => boolean) => {
    const values = Float64Array.from(column.subarray(from, to).filter((_, k) => only(from + k))).sort();
    return values[values.length >> 1] ?? Number.NaN;
  };
  const sizes = (column: Float64Array, atMs: number, only: (s: number) => boolean) => {
    const at = Math.round((atMs - startMs) / 1000);
    return { fromBar: median(column, 0, at, only), toBar: median(column, at, column.length, only) };
  };
  const lasting = (atMs: number) => atMs - startMs >= LASTING_MS && endMs - atMs >= LASTING_MS;
  const minutely = (s: number) => s % 60 === 0;
  const changes: TrueChange[] = events
    .filter((event) => event.form === 'lasting' && lasting(event.startMs))
    .map((event) => {
      const atMs = event.startMs + event.edgeMs / 2;
      return { atMs, kind: 'supply', ...sizes(standingBar, atMs, minutely) };
    });
  const throttledMs = startMs + plan.plumbing.throttledFromS * 1000;
  if (Number.isFinite(throttledMs) && lasting(throttledMs)) {
    changes.push({
      atMs: throttledMs,
      kind: 'property',
      ...sizes(runningBar, throttledMs, (s) => ownLpm[s]! > DRAWING_ABOVE_LPM),
    });
  }
  for (const { atMs, byBar } of logged.offsetSteps) {
    if (!lasting(atMs)) continue;
    const fromBar = sizes(standingBar, atMs, minutely).fromBar;
    changes.push({ atMs, kind: 'sensor', fromBar, toBar: fromBar + byBar });
  }
  return changes;
}
