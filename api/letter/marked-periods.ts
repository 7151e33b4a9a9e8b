import { parseRfc3339 } from '../../collector/model/instant.ts';
import type { LetterInput } from './letter-input.ts';

/** Where full height would be a smear or hide the readings, periods stand in a lane along the top. */
export const LANE_HEIGHT = 7;

/** Periods that a chart hatches: low supply, or cycling without demand at a pump. */
export function markedPeriods(input: LetterInput): { startMs: number; endMs: number; certain: boolean }[] {
  const low = input.findings.lowSupply.map((period) => ({ ...period, certain: period.certainty === 'certain' }));
  const cycling = input.findings.cycling
    .filter((episode) => episode.kind !== 'normal')
    .map((episode) => ({ ...episode, certain: true }));
  return (input.findings.standing ? low : [...low, ...cycling])
    .map((period) => ({
      startMs: parseRfc3339(period.start) ?? Number.NaN,
      endMs: parseRfc3339(period.end) ?? Number.NaN,
      certain: period.certain,
    }))
    .filter((period) => period.endMs > input.fromMs && period.startMs < input.toMs);
}

/** Periods nearer to one another on paper than this are drawn as one: two outlines there would be a blot. */
const NEAREST = 1.5;

/** Where periods lie on paper; of one certainty and too near to be told apart, they are one. */
export function onPaper(
  periods: readonly { startMs: number; endMs: number; certain: boolean }[],
  x: (atMs: number) => number,
): { fromX: number; toX: number; certain: boolean }[] {
  const drawn: { fromX: number; toX: number; certain: boolean }[] = [];
  for (const { startMs, endMs, certain } of [...periods].sort((a, b) => a.startMs - b.startMs)) {
    const [fromX, toX] = [x(startMs), x(endMs)];
    const last = drawn.at(-1);
    if (last && last.certain === certain && fromX - last.toX < NEAREST) last.toX = Math.max(last.toX, toX);
    else drawn.push({ fromX, toX, certain });
  }
  return drawn;
}

/** More ticks than this are one black line on paper, and many bytes. */
const MOST_START_TICKS = 4000;

/** When the pump started, as many as a chart marks: the newest. */
export function pumpStartTimes(input: LetterInput): number[] {
  return input.findings.pumpStarts.slice(-MOST_START_TICKS).flatMap(({ start }) => parseRfc3339(start) ?? []);
}
