import { type ArrivalRun, FARTHEST_MS, rowsOf } from './arrival-runs.ts';
import { faultOf, LONGEST_WRONG_MS, type WrongClock } from './wrong-clock.ts';

export interface NearAndFar {
  readonly near: readonly ArrivalRun[];
  readonly far: readonly WrongClock[];
  /** The near runs at which the clock came back. */
  readonly returns: ReadonlySet<ArrivalRun>;
}

/**
 * Takes out what is stamped years away from the rest of the log: a clock that was never set counts from where its maker
 * began (1970 and 2000 are usual: common practice, no source). It need not have been right before, nor come back.
 */
export function withoutFarStamps(runs: readonly ArrivalRun[], intervalMs: number): NearAndFar {
  const far = farRuns(runs);
  if (far.size === 0) return { near: runs, far: [], returns: new Set() };
  const near: ArrivalRun[] = [];
  const stretches: WrongClock[] = [];
  const returns = new Set<ArrivalRun>();
  let newestMs = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < runs.length; ) {
    if (!far.has(runs[i]!)) {
      newestMs = Math.max(newestMs, runs[i]!.lastMs);
      near.push(runs[i++]!);
      continue;
    }
    let to = i;
    while (to < runs.length && far.has(runs[to]!)) to++;
    const next = runs[to];
    stretches.push(stretchOf(runs.slice(i, to), newestMs, next, intervalMs));
    if (next) returns.add(next);
    i = to;
  }
  return { near, far: stretches, returns };
}

function stretchOf(
  wrong: readonly ArrivalRun[],
  newestMs: number,
  next: ArrivalRun | undefined,
  intervalMs: number,
): WrongClock {
  const lastedMs = wrong.reduce((sum, run) => sum + run.lastMs - run.firstMs + intervalMs, 0);
  const lastMs = wrong.at(-1)!.lastMs;
  const count = wrong.reduce((sum, run) => sum + rowsOf(run), 0);
  const isFirst = newestMs === Number.NEGATIVE_INFINITY;
  const fromMs = newestMs + intervalMs;
  return {
    lastedMs,
    offMs: Number.POSITIVE_INFINITY,
    fault: faultOf(isFirst ? wrong[0]!.firstMs : newestMs, lastMs, count, 'the clock stood years away'),
    explained: isFirst || !next ? undefined : { fromMs, toMs: Math.min(next.firstMs, fromMs + lastedMs) },
  };
}

/** Runs years away from where most rows are, unless they go on there for longer than a clock stays wrong. */
function farRuns(runs: readonly ArrivalRun[]): Set<ArrivalRun> {
  const groups: { rows: number; firstMs: number; lastMs: number; runs: ArrivalRun[] }[] = [];
  for (const run of [...runs].sort((a, b) => a.firstMs - b.firstMs)) {
    const group = groups.at(-1);
    if (group && run.firstMs - group.lastMs <= FARTHEST_MS) {
      group.rows += rowsOf(run);
      group.lastMs = Math.max(group.lastMs, run.lastMs);
      group.runs.push(run);
    } else groups.push({ rows: rowsOf(run), firstMs: run.firstMs, lastMs: run.lastMs, runs: [run] });
  }
  const main = groups.reduce((most, group) => (group.rows >= most.rows ? group : most));
  return new Set(
    groups
      .filter((group) => group !== main && group.lastMs - group.firstMs <= LONGEST_WRONG_MS)
      .flatMap((group) => group.runs),
  );
}
