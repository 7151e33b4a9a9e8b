import type { Piece } from '../store/port.ts';
import { asUncertain } from './accept-message.ts';

/**
 * The first reading without a time after a reconnection waits this long for a second: together they are a buffer being
 * emptied, alone it is live. Long enough for what a logger sends in one go, too short for anybody to notice.
 */
export const DOORSTEP_MS = 40;

export interface BurstDoorstep {
  /** Resolves with the pieces as they are, or marked uncertain where a burst follows in time. */
  hold(key: string, pieces: Piece[]): Promise<Piece[]>;
  /** A burst it is: what waits under the key is let in marked. */
  burst(key: string): void;
  /** Nothing more will follow (the connection ended, the program stops): what waits is let in as it is. */
  release(key?: string): void;
}

export function createBurstDoorstep(): BurstDoorstep {
  const waiting = new Map<string, { timer: NodeJS.Timeout; letIn(uncertain: boolean): void }>();

  function letIn(key: string, uncertain: boolean): void {
    const held = waiting.get(key);
    if (held === undefined) return;
    waiting.delete(key);
    clearTimeout(held.timer);
    held.letIn(uncertain);
  }

  return {
    hold(key, pieces) {
      letIn(key, false);
      return new Promise((resolve) => {
        const timer = setTimeout(() => letIn(key, false), DOORSTEP_MS);
        waiting.set(key, { timer, letIn: (uncertain) => resolve(uncertain ? pieces.map(asUncertain) : pieces) });
      });
    },
    burst: (key) => letIn(key, true),
    release(key) {
      for (const each of key === undefined ? [...waiting.keys()] : [key]) letIn(each, false);
    },
  };
}
