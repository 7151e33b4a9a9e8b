import { watchOf } from '../analysis/analyse.ts';
import { type AnalysisWatch, findingsAsOfNow, stepAnalysis } from '../analysis/analysis-watch.ts';
import type { AnalysisColumns, AnalysisSite, FindingsDocument } from '../analysis/findings.ts';

/** Rows of all watches together: some six weeks at one sample a second, which take under 300 MB. */
export const MOST_WATCHED_ROWS = 4_000_000;
/** Logs watched at once; the least recently asked for ends. */
const MOST_WATCHES = 16;

/** Watches over growing logs, kept between one answer and the next. */
export interface KeptWatches {
  /** Reads a whole log and goes on watching it. */
  begin(name: string, columns: AnalysisColumns, site: AnalysisSite): FindingsDocument;
  /** Steps a watch over rows that follow its last one. Undefined where it isn't kept any more. */
  step(name: string, rows: AnalysisColumns): FindingsDocument | undefined;
}

export function createKeptWatches(mostRows: number = MOST_WATCHED_ROWS): KeptWatches {
  const kept = new Map<string, AnalysisWatch>();

  function keep(name: string, watch: AnalysisWatch): void {
    kept.delete(name);
    kept.set(name, watch);
    let rows = 0;
    for (const { arrived } of kept.values()) rows += arrived.count;
    for (const [oldest, { arrived }] of kept) {
      if (rows <= mostRows && kept.size <= MOST_WATCHES) return;
      kept.delete(oldest);
      rows -= arrived.count;
    }
  }

  return {
    begin(name, columns, site) {
      kept.delete(name);
      const watch = watchOf(columns, site);
      keep(name, watch);
      return findingsAsOfNow(watch);
    },
    step(name, rows) {
      const watch = kept.get(name);
      if (!watch) return undefined;
      // Should a step fail half-way, nothing of it is kept.
      kept.delete(name);
      stepAnalysis(watch, rows);
      const found = findingsAsOfNow(watch);
      keep(name, watch);
      return found;
    },
  };
}
