/*
 * A broker of MQTT 5 says when another client has taken our name; one of 3.1.1 just closes. Connections that end again
 * and again soon after they were made are taken for the same.
 */

/** A connection that ended within this of being made had a short life. */
const SHORT_LIFE_MS = 5000;
/** Two may be a restart or a bad line. */
const SHORT_LIVES_TOLD = 3;

export interface ShortLives {
  opened(): void;
  /** True where it was one short life too many. `ours`: we ended it ourselves. */
  closed(ours: boolean): boolean;
}

/** `nowMs` is any clock that only goes forward. */
export function createShortLives(nowMs: () => number): ShortLives {
  let openedMs: number | undefined;
  let inARow = 0;
  return {
    opened() {
      openedMs = nowMs();
    },
    closed(ours) {
      if (openedMs === undefined) return false;
      const short = nowMs() - openedMs < SHORT_LIFE_MS;
      openedMs = undefined;
      if (ours) return false;
      inARow = short ? inARow + 1 : 0;
      return inARow >= SHORT_LIVES_TOLD;
    },
  };
}
