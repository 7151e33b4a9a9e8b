import type { TrueColumns } from '../house.ts';
import { LocalCalendar } from '../local-day.ts';
import type { Scenario } from '../scenario.ts';

export interface TruePumpState {
  readonly kind: 'no_rise' | 'did_not_start' | 'did_not_stop' | 'outside_hours';
  readonly startMs: number;
  readonly endMs: number;
}

/** A pressure held low for less is a pump that spins up. */
const HELD_LOW_S = 60;
/** This far below cut-in, as part of the band, is well below it. */
const WELL_BELOW_SHARE = 0.25;
/** Running on for less is an ordinary draw. */
const RUNS_ON_S = 20 * 60;
const SAME_SPELL_S = 3600;

/**
 * What the built-in failures made of the pump: turning without lifting, not starting or not stopping where that showed in
 * the true pressure, and starts outside the hours that the owner allows. Pressures are those at the pump's outlet.
 */
export function truePumpStates(scenario: Scenario, columns: TrueColumns): TruePumpState[] {
  const { booster } = scenario.house;
  const states: TruePumpState[] = [];
  booster.forEach(({ fromMs, plan }, k) => {
    const from = Math.max(0, Math.round((fromMs - columns.startMs) / 1000));
    const nextMs = booster[k + 1]?.fromMs ?? Number.POSITIVE_INFINITY;
    const to = Math.min(columns.pressureBar.length, Math.round((nextMs - columns.startMs) / 1000));
    const low = plan.cutInBar - WELL_BELOW_SHARE * (plan.cutOutBar - plan.cutInBar);
    const isLow = (i: number): boolean => columns.pressureBar[i]! < low;
    switch (plan.failure) {
      case 'air_locked':
        states.push(...spells('no_rise', columns, from, to, isLow, HELD_LOW_S));
        break;
      case 'never_starts':
        states.push(...spells('did_not_start', columns, from, to, isLow, HELD_LOW_S));
        break;
      case 'never_stops':
        states.push(
          ...spells(
            'did_not_stop',
            columns,
            from,
            to,
            (i) => columns.pumpOn?.[i] === 1 && columns.pressureBar[i]! >= plan.cutOutBar,
            RUNS_ON_S,
          ),
        );
        break;
      case undefined:
        break;
      default:
        plan.failure satisfies never;
    }
  });
  return [...states, ...outsideHours(scenario, columns)].sort((a, b) => a.startMs - b.startMs);
}

function spells(
  kind: TruePumpState['kind'],
  columns: TrueColumns,
  from: number,
  to: number,
  holds: (second: number) => boolean,
  leastS: number,
): TruePumpState[] {
  const found: TruePumpState[] = [];
  let first = -1;
  for (let i = from; i <= to; i++) {
    if (i < to && holds(i)) {
      if (first < 0) first = i;
      continue;
    }
    if (first >= 0 && i - first >= leastS) {
      found.push({ kind, startMs: columns.startMs + 1000 * first, endMs: columns.startMs + 1000 * i });
    }
    first = -1;
  }
  return found;
}

function outsideHours({ pump, timeZone }: Scenario, columns: TrueColumns): TruePumpState[] {
  const hours = pump?.allowedHours;
  if (!hours) return [];
  const [from, to] = hours;
  const calendar = new LocalCalendar(timeZone);
  const found: { kind: 'outside_hours'; startMs: number; endMs: number }[] = [];
  for (const { startMs, stopMs } of columns.pumpRuns) {
    const day = calendar.dayOf(startMs);
    const after = startMs >= day.at(from);
    const before = startMs < day.at(to);
    if (from < to ? after && before : after || before) continue;
    const last = found[found.length - 1];
    if (last && startMs - last.endMs <= 1000 * SAME_SPELL_S) last.endMs = stopMs ?? startMs;
    else found.push({ kind: 'outside_hours', startMs, endMs: stopMs ?? startMs });
  }
  return found;
}
