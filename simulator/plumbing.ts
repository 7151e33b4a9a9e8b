/*
 * The pipe and the outlets of a house: what the logger at the stop tap reads while water runs. Steady at every instant;
 * pressures gauge in bar, flows in l/min.
 */

/** Loss = k·Qⁿ in bar, Q in l/min. Smooth turbulent pipe: n about 1.75 to 1.852; sharp fittings: towards 2. */
export interface PipeLoss {
  readonly k: number;
  readonly exponent: number;
}

export function lossBar(pipe: PipeLoss, flowLpm: number): number {
  return flowLpm <= 0 ? 0 : pipe.k * flowLpm ** pipe.exponent;
}

/** The pipe that loses `bar` at `flowLpm`. */
export function pipeThatLoses(bar: number, flowLpm: number, exponent: number): PipeLoss {
  return { k: bar / flowLpm ** exponent, exponent };
}

/**
 * Hazen–Williams loss of a pipe as k·Q^1.852: h = 10.667·L·Q^1.852/(C^1.852·d^4.8704) with L, d in m, Q in m³/s, h in m
 * (constant and exponent as in the EPANET 2.2 manual, converted); water at 1000 kg/m³.
 */
export function hazenWilliamsPipe(lengthM: number, boreMm: number, c: number): PipeLoss {
  const cubicMetresASecond = 1 / 60_000;
  const headM = (10.667 * lengthM * cubicMetresASecond ** 1.852) / (c ** 1.852 * (boreMm / 1000) ** 4.8704);
  return { k: headM * 0.0980665, exponent: 1.852 };
}

/** What is open at an instant: each passes `coefficient`·√(p − height). Kept as parallel arrays: this is the inner loop. */
export interface OpenOutlets {
  count: number;
  readonly coefficient: Float64Array;
  readonly heightBar: Float64Array;
}

export const MOST_OPEN_OUTLETS = 64;

export function noOutlets(): OpenOutlets {
  return {
    count: 0,
    coefficient: new Float64Array(MOST_OPEN_OUTLETS),
    heightBar: new Float64Array(MOST_OPEN_OUTLETS),
  };
}

/** Tap law Q = C·√p (nozzle exponent 0.5; EPANET 2.2 manual, emitters), summed over what is open. */
export function outletFlowLpm(open: OpenOutlets, atBar: number): number {
  let sum = 0;
  for (let i = 0; i < open.count; i++) {
    const driving = atBar - open.heightBar[i]!;
    if (driving > 0) sum += open.coefficient[i]! * Math.sqrt(driving);
  }
  return sum;
}

export interface ServicePipes {
  /** Shared with a neighbour; undefined where the service pipe is the house's own from the main. */
  readonly shared: PipeLoss | undefined;
  readonly own: PipeLoss;
}

/** Pressure before the house with a neighbour's flow and the house's own. */
export function deliveredBar(pipes: ServicePipes, mainBar: number, ownLpm: number, neighbourLpm: number): number {
  const sharedLoss = pipes.shared ? lossBar(pipes.shared, ownLpm + neighbourLpm) : 0;
  return mainBar - sharedLoss - lossBar(pipes.own, ownLpm);
}

const SOLVED_BAR = 1e-6;

/**
 * The pressure at the logger with these outlets open: the p at which the pipe delivers just what the outlets pass.
 * Delivered pressure falls and outlet flow rises with p, so the root is single; regula falsi (Illinois) between nothing and
 * the standing pressure, started near `guessBar`.
 */
export function runningBar(
  pipes: ServicePipes,
  mainBar: number,
  neighbourLpm: number,
  open: OpenOutlets,
  guessBar: number,
): number {
  const standing = deliveredBar(pipes, mainBar, 0, neighbourLpm);
  if (open.count === 0 || standing <= 0) return Math.max(0, standing);
  const miss = (p: number): number => p - deliveredBar(pipes, mainBar, outletFlowLpm(open, p), neighbourLpm);
  let low = 0;
  let high = standing;
  let missLow = miss(0);
  if (missLow >= 0) return 0;
  let missHigh = miss(high);
  if (missHigh <= SOLVED_BAR) return high;
  if (guessBar > low && guessBar < high) {
    // The last second's answer and a hair beside it: most seconds are solved by these two and one more step.
    for (const near of [guessBar - 0.004, guessBar + 0.004]) {
      if (near <= low || near >= high) continue;
      const at = miss(near);
      if (at < 0) {
        low = near;
        missLow = at;
      } else {
        high = near;
        missHigh = at;
      }
    }
  }
  for (let step = 0; step < 60; step++) {
    const p = high - (missHigh * (high - low)) / (missHigh - missLow);
    const at = miss(p);
    if (Math.abs(at) < SOLVED_BAR) return p;
    if (at < 0) {
      low = p;
      missLow = at;
      missHigh /= 2;
    } else {
      high = p;
      missHigh = at;
      missLow /= 2;
    }
  }
  return (low + high) / 2;
}
