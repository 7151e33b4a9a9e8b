import type { RandomStream } from './random.ts';
import type { FaultPlan } from './scenario.ts';

const SLOT_MS = 4 * 3_600_000;
const KINDS = ['gap', 'stuck', 'spike', 'out_of_range', 'clock_jump', 'duplicate', 'late', 'out_of_order'] as const;

/** Every kind of fault in turn, one in a slot of four hours, so that none hides another; times on whole minutes. */
export function drawnFaults(
  random: RandomStream,
  startMs: number,
  endMs: number,
  rangeBar: readonly [number, number],
): FaultPlan[] {
  const faults: FaultPlan[] = [];
  const turn = random.integer(0, KINDS.length - 1);
  let slot = 0;
  for (let from = startMs + SLOT_MS; from + SLOT_MS <= endMs - SLOT_MS; from += SLOT_MS) {
    slot++;
    if (random.chance(0.35)) continue;
    const at = from + random.integer(5, 60) * 60_000;
    const minutes = (low: number, high: number): number => at + random.integer(low, high) * 60_000;
    const kind = KINDS[(slot + turn) % KINDS.length]!;
    switch (kind) {
      case 'gap':
        faults.push({ kind, startMs: at, endMs: minutes(2, 90) });
        break;
      case 'stuck':
        faults.push({ kind, startMs: at, endMs: minutes(15, 75) });
        break;
      case 'spike':
        for (let i = random.integer(1, 4); i > 0; i--) {
          const byBar = random.uniform(0.8, 4) * (random.chance(0.5) ? 1 : -0.6);
          faults.push({ kind, atMs: at + i * random.integer(40, 900) * 1000, byBar });
        }
        break;
      case 'out_of_range':
        // What a broken or shorted wire reads: outside what the transducer can measure.
        faults.push({
          kind,
          startMs: at,
          endMs: minutes(1, 25),
          bar: random.chance(0.5) ? rangeBar[1] * 1.125 : rangeBar[0] - 0.1 * (rangeBar[1] - rangeBar[0]),
        });
        break;
      case 'clock_jump':
        faults.push({ kind, startMs: at, endMs: minutes(10, 50), byMs: random.integer(1, 30) * 3_600_000 });
        break;
      case 'duplicate':
        faults.push({ kind, startMs: at, endMs: minutes(1, 10) });
        break;
      case 'late':
        faults.push({ kind, startMs: at, endMs: minutes(3, 40), delayS: random.integer(120, 5400) });
        break;
      case 'out_of_order':
        faults.push({ kind, startMs: at, endMs: minutes(2, 8) });
        break;
      default:
        kind satisfies never;
    }
  }
  return faults;
}

export function drawnSpikes(random: RandomStream, startMs: number, endMs: number, aDay: number): FaultPlan[] {
  const count = Math.round(((endMs - startMs) / 86_400_000) * aDay);
  return Array.from({ length: count }, () => ({
    kind: 'spike' as const,
    atMs: startMs + Math.floor(random.uniform(60, (endMs - startMs) / 1000 - 60)) * 1000,
    byBar: random.uniform(0.7, 3) * (random.chance(0.6) ? 1 : -0.4),
  }));
}
