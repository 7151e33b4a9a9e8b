/** How long after a tap was opened the level before it tells what is left of its flow. */
export const LONGEST_SLOW_CHANGE_MS = 1_800_000;
/** Come back by more than half of a fall: the street would have to have risen by as much. */
const BACK_SHARE = 0.5;
/** A rising edge closes the taps opened since the level it leads back to, within this share of itself. */
const CLOSED_SHARE = 0.1;
const CLOSED_BAR = 0.01;

interface Level {
  /** The reading before a tap was opened, and the fall there was by then. */
  readonly bar: number;
  readonly fall: number;
  readonly atMs: number;
}

/**
 * Levels to which a draw's reading may come back slowly: the idle one, and those before each further tap that is still
 * open. A float valve that shuts makes no edge; what is left of the fall then is what the level before it tells.
 */
export class InnerLevels {
  #levels: Level[];

  constructor(idleBar: number, openedMs: number) {
    this.#levels = [{ bar: idleBar, fall: 0, atMs: openedMs }];
  }

  /**
   * What is left of a fall where the reading has come back slowly towards a level before; undefined where nothing asks
   * for it, or so long after that the level tells nothing.
   * @param nextStepBar the sharp step that follows
   */
  easedFall(runningBar: number, fallBar: number, nowMs: number, nextStepBar: number): number | undefined {
    for (let d = this.#levels.length - 1; d >= 0; d--) {
      const { bar, fall, atMs } = this.#levels[d]!;
      if (nowMs - atMs > LONGEST_SLOW_CHANGE_MS || fall >= fallBar) continue;
      if (runningBar + BACK_SHARE * (fallBar - fall) <= bar) continue;
      const left = fall + bar - runningBar;
      // A closing edge that the whole fall explains and what is left doesn't: the street rose, and the tap ran on.
      if (Math.abs(fallBar - nextStepBar) < Math.abs(left - nextStepBar)) continue;
      return left > 0 ? left : undefined;
    }
    return undefined;
  }

  /** The levels as a sensor shows them whose zero has stepped. */
  shiftedBy(stepBar: number): InnerLevels {
    const shifted = new InnerLevels(0, 0);
    shifted.#levels = this.#levels.map((level) => ({ ...level, bar: level.bar + stepBar }));
    return shifted;
  }

  /** Follows an edge within the draw. */
  pass(beforeBar: number, fallBefore: number, fallAfter: number, atMs: number): void {
    if (fallAfter > fallBefore) {
      this.#levels.push({ bar: beforeBar, fall: fallBefore, atMs });
      return;
    }
    const off = CLOSED_BAR + CLOSED_SHARE * (fallBefore - fallAfter);
    while (this.#levels.length > 1 && this.#levels.at(-1)!.fall >= fallAfter - off) this.#levels.pop();
  }
}
