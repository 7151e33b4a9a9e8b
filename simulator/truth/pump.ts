import type { PumpRun, TrueColumns } from '../house.ts';
import type { CyclingCause } from '../scenario.ts';

export interface TrueCycling {
  readonly startMs: number;
  readonly endMs: number;
  readonly kind: 'no_demand' | 'rapid_on_demand';
  readonly starts: number;
  readonly startsPerHour: number;
  readonly causes: readonly CyclingCause[];
}

const LEAST_STARTS = 4;
const NO_DEMAND_APART_MS = 20 * 60_000;
const RAPID_APART_MS = 15_000;

/**
 * Episodes: at least four starts without demand no more than 20 min apart and none on demand between, or at least four on
 * demand no more than 15 s apart. From the first start to the last one's stop.
 */
export function trueCycling(runs: readonly PumpRun[], causes: readonly CyclingCause[]): TrueCycling[] {
  const episodes: TrueCycling[] = [];
  let group: PumpRun[] = [];
  const close = (): void => {
    const first = group[0];
    const last = group.at(-1);
    if (first && last && group.length >= LEAST_STARTS) {
      const hours = (last.startMs - first.startMs) / 3_600_000;
      episodes.push({
        startMs: first.startMs,
        endMs: last.stopMs ?? last.startMs,
        kind: first.onDemand ? 'rapid_on_demand' : 'no_demand',
        starts: group.length,
        startsPerHour: (group.length - 1) / hours,
        causes,
      });
    }
    group = [];
  };
  for (const run of runs) {
    const before = group.at(-1);
    const apartMs = before ? run.startMs - before.startMs : 0;
    if (
      before &&
      (before.onDemand !== run.onDemand || apartMs > (run.onDemand ? RAPID_APART_MS : NO_DEMAND_APART_MS))
    ) {
      close();
    }
    group.push(run);
  }
  close();
  return episodes;
}

export interface TrueWeakInlet {
  readonly startMs: number;
  readonly endMs: number;
  readonly minBar: number;
}

/** Where the inlet stood under the limit while the pump ran: one per run of the pump. */
export function trueWeakInlet(columns: TrueColumns, limitBar: number): TrueWeakInlet[] {
  const { inletBar, pumpOn, startMs } = columns;
  if (!inletBar || !pumpOn) return [];
  const found: TrueWeakInlet[] = [];
  let from = -1;
  let last = -1;
  let minBar = Number.POSITIVE_INFINITY;
  for (let i = 0; i <= pumpOn.length; i++) {
    if (i < pumpOn.length && pumpOn[i] === 1) {
      if (inletBar[i]! >= limitBar) continue;
      if (from < 0) from = i;
      last = i;
      minBar = Math.min(minBar, inletBar[i]!);
    } else if (from >= 0) {
      found.push({ startMs: startMs + from * 1000, endMs: startMs + (last + 1) * 1000, minBar });
      from = -1;
      minBar = Number.POSITIVE_INFINITY;
    }
  }
  return found;
}
