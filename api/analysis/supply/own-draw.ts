/** A stretch in which the household drew, in epoch milliseconds, half open. */
export interface OwnDraw {
  readonly startMs: number;
  readonly endMs: number;
  /** Mean of standing minus reading; NaN where standing pressure isn't known inside. */
  readonly dropBar: number;
  /** The same over what shows in the pressure, where a meter shows the draw for longer: whether it is a draw at all. */
  readonly clearBar?: number;
  readonly meanLpm?: number;
  /** False where the log begins or ends within it. */
  readonly whole: boolean;
}

/** Joins draws whose pause is shorter than `joinPauseS`; falls and flows are means over the whole, in which the pause has none. */
export function joinDraws(draws: readonly OwnDraw[], joinPauseS: number): OwnDraw[] {
  const joined: OwnDraw[] = [];
  for (const draw of draws) {
    const last = joined.at(-1);
    if (!last || draw.startMs - last.endMs >= joinPauseS * 1000) {
      joined.push(draw);
      continue;
    }
    const a = last.endMs - last.startMs;
    const b = draw.endMs - draw.startMs;
    const weigh = (x: number, y: number) => (a * x + b * y) / Math.max(1, draw.endMs - last.startMs);
    joined[joined.length - 1] = {
      startMs: last.startMs,
      endMs: draw.endMs,
      dropBar: weigh(last.dropBar, draw.dropBar),
      ...(last.clearBar === undefined || draw.clearBar === undefined
        ? {}
        : { clearBar: weigh(last.clearBar, draw.clearBar) }),
      ...(last.meanLpm === undefined || draw.meanLpm === undefined
        ? {}
        : { meanLpm: weigh(last.meanLpm, draw.meanLpm) }),
      whole: last.whole && draw.whole,
    };
  }
  return joined;
}

/** Least fall that is reported: 0.03 bar, three times the noise or two converter steps, whichever is largest. */
export function leastFallBar(noiseBar: number, quantumBar: number): number {
  return Math.max(0.03, 3 * noiseBar, 2 * quantumBar);
}
