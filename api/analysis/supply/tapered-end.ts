import type { SegmentationInput } from './segmentation.ts';

/** Longest tapering off: a cistern's float valve. */
const LONGEST_SOFT_END_MS = 900_000;

type Rows = Pick<SegmentationInput, 'timeMs' | 'pressureBar' | 'to' | 'levelRows'>;

/** Mean of the last rows of a block. */
export function tailLevel(input: Rows, after: number): number {
  const start = Math.max(after, input.to - input.levelRows);
  let sum = 0;
  for (let i = start; i < input.to; i++) sum += input.pressureBar[i]!;
  return sum / Math.max(1, input.to - start);
}

/** First row from which the reading is back at the idle level; −1 where it isn't within the time a cistern takes. */
export function recoveryRow(
  input: Rows,
  after: number,
  before: number,
  idleBar: number,
  fall: number,
  sdBar: number,
): number {
  const { timeMs, pressureBar } = input;
  const width = Math.max(1, Math.min(3, input.levelRows - 2));
  const enough = idleBar - Math.max(0.06 * fall, 0.7 * sdBar, 0.003);
  let sum = 0;
  for (let i = after; i < before; i++) {
    if (timeMs[i]! - timeMs[after]! > LONGEST_SOFT_END_MS) return -1;
    sum += pressureBar[i]!;
    if (i >= after + width) sum -= pressureBar[i - width]!;
    if (i >= after + width - 1 && sum / width >= enough) return i - width + 2;
  }
  return -1;
}
