import { centredMean, runningSums } from './averages.ts';

export interface TrueLowSupply {
  readonly startMs: number;
  readonly endMs: number;
  readonly minBar: number;
  readonly certainty: 'certain' | 'possible';
}

const LEAST_S = 60;
const BRIDGED_UNDER_S = 120;
/** A blind spell of more ends a period: nothing is assumed inside. */
const BLIND_ENDS_OVER_S = 120;
/** The lowest is taken over so much, so that one restless second doesn't name it. */
const LOWEST_MEAN_S = 15;

/**
 * Spans with the standing pressure under the threshold: recoveries under 120 s bridged, then at least 60 s asked.
 * `certain` where the part under threshold less `expandedBar` itself lasts the time asked. One value a second.
 */
export function trueLowSupply(
  startMs: number,
  standingBar: Float64Array,
  thresholdBar: number,
  expandedBar: number,
  blind: readonly { startMs: number; endMs: number }[],
): TrueLowSupply[] {
  const hidden = new Uint8Array(standingBar.length);
  for (const spell of blind) {
    if (spell.endMs - spell.startMs <= BLIND_ENDS_OVER_S * 1000) continue;
    hidden.fill(1, Math.max(0, (spell.startMs - startMs) / 1000), Math.max(0, (spell.endMs - startMs) / 1000));
  }
  const sums = runningSums(standingBar);
  return spansUnder(standingBar, hidden, thresholdBar, 0, standingBar.length).map(({ from, to }) => {
    let minBar = Number.POSITIVE_INFINITY;
    for (let i = from; i < to; i++) minBar = Math.min(minBar, centredMean(sums, i, LOWEST_MEAN_S));
    const surely = spansUnder(standingBar, hidden, thresholdBar - expandedBar, from, to).length > 0;
    return {
      startMs: startMs + from * 1000,
      endMs: startMs + to * 1000,
      minBar,
      certainty: surely ? 'certain' : 'possible',
    };
  });
}

function spansUnder(
  bar: Float64Array,
  hidden: Uint8Array,
  limitBar: number,
  begin: number,
  end: number,
): { from: number; to: number }[] {
  const spans: { from: number; to: number }[] = [];
  let from = -1;
  let last = -1;
  const close = (): void => {
    if (from >= 0 && last + 1 - from >= LEAST_S) spans.push({ from, to: last + 1 });
    from = -1;
  };
  for (let i = begin; i < end; i++) {
    if (hidden[i]) {
      close();
    } else if (bar[i]! < limitBar) {
      if (from >= 0 && i - last - 1 >= BRIDGED_UNDER_S) close();
      if (from < 0) from = i;
      last = i;
    }
  }
  close();
  return spans;
}
