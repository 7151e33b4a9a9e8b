import { type Opening, openness, outletLpm } from './outlets.ts';
import type { PipeLoss } from './service-pipe.ts';

export interface Plumbing {
  readonly own: PipeLoss;
  /** The part of the pipe that a neighbour draws through as well. */
  readonly shared: PipeLoss | undefined;
  /** From this second on a stop tap half shut takes `throttleBar · (Q/10)²` more. */
  readonly throttledFromS: number;
  readonly throttleBar: number;
  /** Height of the ring that a fast closing leaves, per l/min shut off. */
  readonly hammerBarPerLpm: number;
}

/** One value a second, without noise. */
export interface TrueColumns {
  readonly startMs: number;
  /** What the logger would read with nobody in the house drawing. */
  readonly standingBar: Float64Array;
  /** What it reads, before the ring of closing valves. */
  readonly runningBar: Float64Array;
  readonly ringBar: Float32Array;
  readonly ownLpm: Float32Array;
  readonly neighbourLpm: Float32Array;
}

/** Flow balance each second: street less losses at the flow meets the outlets' demand at that pressure (bisection). */
export function runHydraulics(
  startMs: number,
  streetBar: Float64Array,
  openings: readonly Opening[],
  neighbours: readonly Opening[],
  plumbing: Plumbing,
): TrueColumns {
  const seconds = streetBar.length;
  const neighbourLpm = new Float32Array(seconds);
  for (const opening of neighbours) {
    for (let s = opening.startS; s < opening.endS; s++) {
      neighbourLpm[s]! += outletLpm(opening.outlet, openness(opening, s), 0.85 * streetBar[s]!);
    }
  }
  const shared = plumbing.shared ?? (() => 0);
  const standingBar = Float64Array.from(streetBar, (bar, s) =>
    neighbourLpm[s]! > 0 ? bar - shared(neighbourLpm[s]!) : bar,
  );
  const runningBar = standingBar.slice();
  const ownLpm = new Float32Array(seconds);
  let next = 0;
  let active: Opening[] = [];
  for (let s = 0; s < seconds; s++) {
    while (next < openings.length && openings[next]!.startS <= s) active.push(openings[next++]!);
    if (active.length === 0) continue;
    active = active.filter((opening) => opening.endS > s);
    const open = active.map((opening) => openness(opening, s));
    const extra = s >= plumbing.throttledFromS ? plumbing.throttleBar : 0;
    const left = (flow: number) =>
      streetBar[s]! - shared(flow + neighbourLpm[s]!) - plumbing.own(flow) - extra * (flow / 10) ** 2;
    let low = 0;
    let high = 79;
    for (let round = 0; round < 26; round++) {
      const flow = (low + high) / 2;
      const running = left(flow);
      let wanted = 0;
      for (let k = 0; k < active.length; k++) wanted += outletLpm(active[k]!.outlet, open[k]!, running);
      if (wanted > flow) low = flow;
      else high = flow;
    }
    ownLpm[s] = high < 1e-4 ? 0 : high;
    runningBar[s] = left(ownLpm[s]!);
  }
  return { startMs, standingBar, runningBar, ringBar: ringing(openings, ownLpm, plumbing), ownLpm, neighbourLpm };
}

/** A fast closing rings for seconds after; a logger at 1 Hz sees a few of its swings. */
function ringing(openings: readonly Opening[], ownLpm: Float32Array, plumbing: Plumbing): Float32Array {
  const ring = new Float32Array(ownLpm.length);
  for (const { endS, closeS, startS } of openings) {
    if (closeS > 0.8) continue;
    const shutOff = ownLpm[Math.max(startS, endS - 2)]! - ownLpm[endS]!;
    if (shutOff <= 0) continue;
    const height = Math.min(0.4, plumbing.hammerBarPerLpm * shutOff);
    for (let k = 0; k < 5 && endS + k < ring.length; k++) {
      ring[endS + k]! += height * Math.exp(-k / 1.1) * Math.cos(1.9 * k + (startS % 7));
    }
  }
  return ring;
}
