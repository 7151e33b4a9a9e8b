import { median } from '../statistics/quantile.ts';
import { levelAround, outflowIndex, type Rest, type SteadyOutflow } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';

/**
 * How many times the usual steady outflow flows at a level, by its outflow index: 1 all over for a dripping tap, much more
 * at cut-out than at cut-in where water passes back to a main that stands little below cut-in.
 */
export type RestingProfile = (index: number) => number;

/** Parts of the band that are judged one by one, and the pieces of rests that a part needs. */
const PARTS = 8;
const FEWEST_PIECES = 24;
/** A rest that a steady outflow explains to this share was left alone for the most part. */
const EXPLAINED_SHARE = 0.4;
const PIECES_OF_REST = 8;
/** No opening to the air or the main lets through more than this many times as much at cut-out as in the middle. */
const MOST_RATIO = 6;

/** The profile of a log's rests between cut-in and cut-out; draws are few among the rests that a steady outflow explains. */
export function restingProfile(
  rows: PumpRows,
  rests: readonly Rest[],
  steady: SteadyOutflow,
  cutInBar: number,
  cutOutBar: number,
): RestingProfile {
  const lowest = outflowIndex(cutOutBar);
  const width = (outflowIndex(cutInBar) - lowest) / PARTS;
  if (!(width > 0)) return () => 1;
  const partOf = (index: number): number => Math.max(0, Math.min(PARTS - 1, Math.floor((index - lowest) / width)));
  const ratios: number[][] = Array.from({ length: PARTS }, () => []);
  for (const rest of rests) {
    const count = rest.toRow - rest.fromRow;
    if (count < PIECES_OF_REST) continue;
    const slope = steady(rest);
    const lengthMs = rows.timeMs[rest.toRow]! - rows.timeMs[rest.fromRow]!;
    if (slope * lengthMs < EXPLAINED_SHARE * PARTS * width) continue;
    const step = Math.floor(count / PIECES_OF_REST);
    for (let from = rest.fromRow; from + step <= rest.toRow; from += step) {
      const before = outflowIndex(levelAround(rows, from, rest));
      const after = outflowIndex(levelAround(rows, from + step, rest));
      const pieceMs = rows.timeMs[from + step]! - rows.timeMs[from]!;
      ratios[partOf((before + after) / 2)]!.push((after - before) / pieceMs / slope);
    }
  }
  const usual = ratios.map((part) =>
    part.length < FEWEST_PIECES ? 1 : Math.max(1, Math.min(MOST_RATIO, median(part))),
  );
  return (index) => usual[partOf(index)]!;
}

/** How long a steady outflow of `slope` takes from one index to a later one under the profile; infinite where none flows. */
export function restingMs(profile: RestingProfile, slope: number, fromIndex: number, toIndex: number): number {
  const step = (toIndex - fromIndex) / PARTS;
  let ms = 0;
  for (let part = 0; part < PARTS; part++) ms += step / (slope * profile(fromIndex + (part + 0.5) * step));
  return ms;
}
