import type { PumpRun } from './pump-run.ts';

/** A run of starts that belong together, before its causes are looked for. */
export interface Episode {
  readonly kind: 'no_demand' | 'rapid_on_demand';
  readonly runs: readonly PumpRun[];
  readonly startsPerHour: number;
  /** Spread of the periods over their mean; nought for a clockwork. */
  readonly irregularity: number;
}

/** Fewer starts than this are no cycling. */
export const EPISODE_STARTS = 4;
/** Starts without demand further apart than this don't belong together. */
export const NO_DEMAND_APART_MS = 20 * 60_000;
/** Starts on demand further apart than this leave the motor time enough. */
export const RAPID_APART_MS = 15_000;

/** Episodes of cycling, ascending by start. Runs without `onDemand` can only be rapid ones. */
export function cyclingEpisodes(runs: readonly PumpRun[]): Episode[] {
  return [
    ...episodesOf(runs, 'no_demand', false, NO_DEMAND_APART_MS),
    ...episodesOf(runs, 'rapid_on_demand', true, RAPID_APART_MS),
  ].sort((a, b) => a.runs[0]!.startMs - b.runs[0]!.startMs);
}

function episodesOf(
  runs: readonly PumpRun[],
  kind: Episode['kind'],
  onDemand: boolean,
  longestApartMs: number,
): Episode[] {
  const episodes: Episode[] = [];
  let together: PumpRun[] = [];
  const close = (): void => {
    if (together.length >= EPISODE_STARTS) episodes.push(episodeOf(kind, together));
    together = [];
  };
  for (const run of runs) {
    const last = together[together.length - 1];
    // So near one another starts are rapid whoever draws: only a draw empties a vessel in seconds.
    const belongs = run.onDemand === onDemand || (onDemand && run.onDemand === undefined);
    if (!belongs || (last && run.startMs - last.startMs > longestApartMs)) close();
    if (belongs) together.push(run);
  }
  close();
  return episodes;
}

function episodeOf(kind: Episode['kind'], runs: readonly PumpRun[]): Episode {
  const spanMs = runs[runs.length - 1]!.startMs - runs[0]!.startMs;
  const meanMs = spanMs / (runs.length - 1);
  let squares = 0;
  for (let k = 1; k < runs.length; k++) squares += (runs[k]!.startMs - runs[k - 1]!.startMs - meanMs) ** 2;
  return {
    kind,
    runs,
    startsPerHour: 3_600_000 / meanMs,
    irregularity: Math.sqrt(squares / (runs.length - 1)) / meanMs,
  };
}
