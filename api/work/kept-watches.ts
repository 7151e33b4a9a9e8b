import { watchOf } from '../analysis/analyse.ts';
import { type AnalysisWatch, findingsAsOfNow, restateAnalysis } from '../analysis/analysis-watch.ts';
import type { AnalysisSite, FindingsDocument } from '../analysis/findings.ts';
import { type JoinReach, joinColumns, joinReach, joinTail, type RecordedChannels } from './join-columns.ts';

/** Rows of all watches together: some six weeks at one sample a second, which take under 300 MB. */
export const MOST_WATCHED_ROWS = 4_000_000;
/** Logs watched at once; the least recently asked for ends. */
const MOST_WATCHES = 16;

/** Watches over growing logs, kept between one answer and the next. */
export interface KeptWatches {
  /** Reads a whole log and goes on watching it. */
  begin(name: string, recorded: RecordedChannels, site: AnalysisSite): FindingsDocument;
  /**
   * Steps a watch over what a log recorded from a time on: rows that follow its last one, and those before them with which
   * slower channels have caught up. The other channels begin `JOIN_BEFORE_MS` before it. Undefined where it isn't kept any
   * more, or what came can't be joined to what was there.
   */
  step(name: string, recorded: RecordedChannels, fromMs: number): FindingsDocument | undefined;
}

/** No channel is joined over a longer time: readings an hour apart say nothing of a row between them. */
export const JOIN_BEFORE_MS = 30 * 60_000;

interface Kept {
  readonly watch: AnalysisWatch;
  readonly reach: JoinReach;
}

/** Pairs of columns that a watch holds a row of: one, of times and pressures, without a pump. */
function columnPairs({ arrived, pump }: AnalysisWatch): number {
  return (1 + Object.keys(arrived.values).length + (pump ? 3 : 0)) / 2;
}

export function createKeptWatches(mostRows: number = MOST_WATCHED_ROWS): KeptWatches {
  const kept = new Map<string, Kept>();
  const heldBy = ({ watch }: Kept) => watch.arrived.count * columnPairs(watch);

  function keep(name: string, one: Kept): void {
    kept.delete(name);
    kept.set(name, one);
    let rows = 0;
    for (const other of kept.values()) rows += heldBy(other);
    for (const [oldest, other] of kept) {
      if (rows <= mostRows && kept.size <= MOST_WATCHES) return;
      kept.delete(oldest);
      rows -= heldBy(other);
    }
  }

  return {
    begin(name, recorded, site) {
      kept.delete(name);
      const watch = watchOf(joinColumns(recorded), site);
      const reach = joinReach(recorded);
      const joinable = Object.values(reach).every((ms) => ms <= JOIN_BEFORE_MS);
      if (joinable && recorded.pressure.timeMs.length > 0) keep(name, { watch, reach });
      return findingsAsOfNow(watch);
    },
    step(name, recorded, fromMs) {
      const one = kept.get(name);
      if (!one) return undefined;
      // Should a step fail half-way, nothing of it is kept.
      kept.delete(name);
      const isNew = (['flow', 'pump', 'inlet'] as const).some(
        (channel) => one.reach[channel] === undefined && (recorded[channel]?.timeMs.length ?? 0) > 0,
      );
      if (isNew || !restateAnalysis(one.watch, fromMs, joinTail(recorded, one.reach))) return undefined;
      const found = findingsAsOfNow(one.watch);
      keep(name, one);
      return found;
    },
  };
}
