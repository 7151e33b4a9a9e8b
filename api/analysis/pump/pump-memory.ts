import type { Cycling } from '../findings.ts';
import type { HourLevel } from './booster-change.ts';
import type { Episode } from './episodes.ts';
import type { IdleCycle } from './hourly-rates.ts';
import type { LeakOrValve } from './leak-or-valve.ts';
import { isSameRun, type MarkMemory, noMarks } from './settled-marks.ts';
import type { ToldStarts } from './start-figures.ts';

/**
 * What was worked out of a growing log when it was last asked for, and needs no working out again where all that it rests
 * on is the same. It speaks of one watch: with rows put into another order a new one begins.
 */
export interface PumpMemory {
  readonly marks: MarkMemory;
  /** Levels of the hours whose rows stay as they are, ascending. */
  readonly hours: HourLevel[];
  /** Rows before this one stay as they are. */
  settledRows: number;
  verdicts: readonly Verdict[];
  episodes: ReadonlyMap<string, ToldEpisode>;
  /** Starts as they are told, by the marked run that they are of. */
  readonly starts: ToldStarts;
}

export interface Verdict {
  readonly rests: readonly IdleCycle[];
  readonly told: LeakOrValve;
}

/** An episode, what of the plant it was judged by, and what was said of it. */
export interface ToldEpisode {
  readonly episode: Episode;
  readonly judgedBy: readonly unknown[];
  readonly cycling: Cycling;
}

export function nothingKept(): PumpMemory {
  return { marks: noMarks(), hours: [], settledRows: 0, verdicts: [], episodes: new Map(), starts: new WeakMap() };
}

/** The verdict on the very same rests, if their rows stay as they are. */
export function keptVerdict(memory: PumpMemory, rests: readonly IdleCycle[]): Verdict | undefined {
  const last = rests[rests.length - 1];
  if (!last || last.stopRow >= memory.settledRows) return undefined;
  return memory.verdicts.find(
    ({ rests: before }) =>
      before.length === rests.length &&
      before.every(({ fromRow, toRow, stopRow }, k) => {
        const now = rests[k]!;
        return fromRow === now.fromRow && toRow === now.toRow && stopRow === now.stopRow;
      }),
  );
}

/** A rapid episode may begin with the start that one without demand would. */
export function episodeKey({ kind, runs }: Episode): string {
  return `${kind} ${runs[0]!.startMs}`;
}

/** What was said of the very same episode under the same circumstances, if its rows stay as they are. */
export function keptEpisode(memory: PumpMemory, episode: Episode, judgedBy: readonly unknown[]): Cycling | undefined {
  const before = memory.episodes.get(episodeKey(episode));
  const last = episode.runs[episode.runs.length - 1]!;
  if (!before || (last.stopRow ?? Number.POSITIVE_INFINITY) >= memory.settledRows) return undefined;
  const { runs } = before.episode;
  const isSame =
    runs.length === episode.runs.length &&
    judgedBy.every((value, k) => Object.is(value, before.judgedBy[k])) &&
    episode.runs.every((run, k) => isSameRun(run, runs[k]!));
  return isSame ? before.cycling : undefined;
}
