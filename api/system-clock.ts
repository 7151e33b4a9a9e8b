import type { Clock } from '../collector/model/clock.ts';

/** The machine's clock. Timers don't keep the process alive by themselves. */
export const systemClock: Clock = {
  nowMs: () => Date.now(),
  every(intervalMs, action) {
    const timer = setInterval(action, intervalMs);
    timer.unref();
    return () => clearInterval(timer);
  },
};
