import type { Clock } from '../../collector/model/clock.ts';
import type { Log } from '../../collector/ports.ts';
import type { Store } from '../../collector/store/port.ts';

/** How often it is looked for closed hours. */
const LOOK_EVERY_MS = 1_000;
/** Longest turn (a message that arrives meanwhile waits so long at the most), and the pause after it. */
const TURN_MS = 20;
const PAUSE_MS = 20;
/** How often it is looked for samples that are older than their site keeps them; they are counted in days. */
const AGE_EVERY_MS = 60_000;
/** After a fault: the store itself says in health what is wrong. */
const AFTER_FAULT_MS = 30_000;

/** Turns closed hours into blocks and erases what is older than its site keeps it, a little at a time. */
export function startSealing(needs: { store: Store; clock: Clock; log: Log }): { stop(): Promise<void> } {
  const { store, clock, log } = needs;
  let running: Promise<void> | undefined;
  let notBeforeMs = Number.NEGATIVE_INFINITY;
  let nextAgeingMs = Number.NEGATIVE_INFINITY;
  let stopped = false;

  async function sealWhatWaits(): Promise<void> {
    let before = Number.POSITIVE_INFINITY;
    while (!stopped) {
      const left = await store.seal(clock.nowMs(), TURN_MS);
      // Hours that can't be sealed just now must not keep the program busy.
      if (left === 0 || left >= before) return;
      before = left;
      await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
    }
  }

  async function eraseWhatIsAged(): Promise<void> {
    if (clock.nowMs() < nextAgeingMs) return;
    while (!stopped && (await store.eraseAged(clock.nowMs(), TURN_MS)))
      await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
    nextAgeingMs = clock.nowMs() + AGE_EVERY_MS;
  }

  const stopTimer = clock.every(LOOK_EVERY_MS, () => {
    if (running || clock.nowMs() < notBeforeMs) return;
    running = sealWhatWaits()
      .then(eraseWhatIsAged)
      .catch((error: unknown) => {
        notBeforeMs = clock.nowMs() + AFTER_FAULT_MS;
        log.warn(
          { err: error },
          'closed hours could not be sealed, or old samples not erased; they stay and are tried again',
        );
      })
      .finally(() => {
        running = undefined;
      });
  });
  return {
    async stop() {
      stopped = true;
      stopTimer();
      await running;
    },
  };
}
