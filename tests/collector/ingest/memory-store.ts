import type { CollectorStore } from '../../../collector/collector.ts';
import type { ChannelSetting } from '../../../collector/model/logger.ts';
import { Problem } from '../../../collector/model/problem.ts';
import type { LatestSample } from '../../../collector/model/series.ts';
import type { Piece, PieceOutcome, Refusal } from '../../../collector/store/port.ts';

export interface MemoryStore extends CollectorStore {
  readonly pieces: Piece[];
  readonly refused: Refusal[];
  readonly loggers: Map<string, ChannelSetting[]>;
  /** Commits so far, and the pieces in each. */
  readonly commits: number[];
  /** While set, commits don't end; `release` lets them. */
  hold(): void;
  release(): void;
  /** While set, commits fail with it. */
  failWith(problem: Error | undefined): void;
  samples(): { loggerId: string; channel: string; unit: string; timeMs: number; value: number; flags: number }[];
}

export const STORE_FULL = new Problem('store_full', 'the disk is full', 'free some space');

/** A store that keeps everything in memory and whose commits a test can hold or fail. Unique by time, as the port asks. */
export function memoryStore(...loggerIds: string[]): MemoryStore {
  const pieces: Piece[] = [];
  const refused: Refusal[] = [];
  const commits: number[] = [];
  const values = new Map<string, number>();
  const states = new Map<string, string>();
  const loggers = new Map<string, ChannelSetting[]>(loggerIds.map((id) => [id, []]));
  let problem: Error | undefined;
  let held: Promise<void> | undefined;
  let letGo = (): void => undefined;
  return {
    pieces,
    refused,
    loggers,
    commits,
    hold() {
      held = new Promise((resolve) => {
        letGo = resolve;
      });
    },
    release() {
      held = undefined;
      letGo();
    },
    failWith(error) {
      problem = error;
    },
    async store(batch) {
      if (held) await held;
      else await Promise.resolve();
      if (problem) throw problem;
      commits.push(batch.length);
      pieces.push(...batch);
      return batch.map((piece) => keep(values, piece));
    },
    async addRefusals(batch) {
      if (held) await held;
      if (problem) throw problem;
      refused.push(...batch);
    },
    async logger(id) {
      return loggers.has(id) ? { id, createdMs: 0, keySha256: '' } : undefined;
    },
    async channelSettings(id) {
      return loggers.get(id) ?? [];
    },
    async latest(ids): Promise<LatestSample[]> {
      const latest = new Map<string, LatestSample>();
      for (const piece of pieces) {
        if (!ids.includes(piece.loggerId)) continue;
        piece.timeMs.forEach((atMs, i) => {
          const key = `${piece.loggerId} ${piece.channel}`;
          if ((latest.get(key)?.atMs ?? -1) > atMs) return;
          const { loggerId, channel, unit, arrivedMs } = piece;
          latest.set(key, { loggerId, channel, atMs, value: piece.value[i]!, unit, arrivedMs });
        });
      }
      return [...latest.values()];
    },
    async state(name) {
      return states.get(name);
    },
    async putState(name, value) {
      states.set(name, value);
    },
    samples: () =>
      pieces.flatMap((piece) =>
        [...piece.timeMs].map((timeMs, i) => ({
          loggerId: piece.loggerId,
          channel: piece.channel,
          unit: piece.unit,
          timeMs,
          value: piece.value[i]!,
          flags: piece.flags?.[i] ?? 0,
        })),
      ),
  };
}

function keep(values: Map<string, number>, piece: Piece): PieceOutcome {
  const outcome = { stored: 0, duplicate: 0, conflict: 0 };
  piece.timeMs.forEach((atMs, i) => {
    const key = `${piece.loggerId} ${piece.channel} ${atMs}`;
    const before = values.get(key);
    if (before === undefined) {
      values.set(key, piece.value[i]!);
      outcome.stored += 1;
    } else if (before === piece.value[i]) outcome.duplicate += 1;
    else outcome.conflict += 1;
  });
  return outcome;
}
