import { median } from '../statistics/quantile.ts';

/** What one hour showed of the loss at rest, and of the main where something shows it: logarithms and standard errors. */
export interface HourPair {
  readonly loss: number;
  readonly lossError: number;
  /** Of what shows the main: the pump's filling, or the pressure across the valve. */
  readonly main?: { readonly log: number; readonly error: number } | undefined;
}

/** How far a main may move from hour to hour, in the terms of what shows it; common practice, no source. */
const MAIN_SPREADS: Weighted = [
  [0.001, 0.2],
  [0.004, 0.1],
  [0.01, 0.14],
  [0.02, 0.14],
  [0.04, 0.14],
  [0.08, 0.14],
  [0.16, 0.14],
];
/** A leak to the air hardly changes by itself; some do, a dripping washer, a cistern. */
const LEAK_SPREADS = [0.001, 0.002, 0.004, 0.008, 0.015];
const RESTLESS_LEAKS = 0.08;
/** A leak doesn't follow the main, but the pump that fills further from a higher one leaves warmer gas behind. */
const LEAK_SLOPES: Weighted = [
  [0, 0.6],
  [-0.1, 0.1],
  [-0.05, 0.1],
  [0.05, 0.1],
  [0.1, 0.1],
];
/** No hour counts by more than this against what fits the others: draws unseen spoil some. In squared errors. */
const MOST_MISFIT = 60;
/** What a valve's loss does beside following the main. */
const VALVE_SPREADS = [0.001, 0.004, 0.01];
/** Share of valves whose loss follows nothing that is shown: a pump held back by a regulator fills alike at every main. */
const UNSHOWN_MAINS = 0.15;
const FREE_SPREADS = [0.015, 0.03, 0.06, 0.12];

type Weighted = readonly (readonly [value: number, weight: number])[];

/**
 * Natural logarithm of the odds that water passes back to the main rather than out: whether the loss moves from hour to
 * hour, and whether it does so with the main. The main moves by an unknown spread and is shown with an error, the loss
 * answers it with one of `slopes` or, as a leak, not at all: bivariate normal likelihoods, averaged over what isn't known.
 */
export function oddsByMain(hours: readonly HourPair[], slopes: readonly number[]): number {
  const centred = centredPairs(hours);
  const steady = weighted(
    LEAK_SLOPES.map(([slope, weight]) => [mean(LEAK_SPREADS.map((own) => over(centred, slope, own))), weight]),
  );
  const free = mean(FREE_SPREADS.map((own) => over(centred, 0, own)));
  const follows = mean(slopes.flatMap((slope) => VALVE_SPREADS.map((own) => over(centred, slope, own))));
  const best = Math.max(steady, free, follows);
  const leak = (1 - RESTLESS_LEAKS) * Math.exp(steady - best) + RESTLESS_LEAKS * Math.exp(free - best);
  const valve = (1 - UNSHOWN_MAINS) * Math.exp(follows - best) + UNSHOWN_MAINS * Math.exp(free - best);
  return Math.log(valve + 1e-12) - Math.log(leak + 1e-12);
}

/** Logarithm of the mean likelihood over how far the main moved. */
function over(hours: readonly HourPair[], slope: number, own: number): number {
  return weighted(MAIN_SPREADS.map(([spread, weight]) => [likelihood(hours, slope, spread, own), weight]));
}

function likelihood(hours: readonly HourPair[], slope: number, spread: number, own: number): number {
  let sum = 0;
  for (const { loss, lossError, main } of hours) {
    const lossVariance = (slope * spread) ** 2 + own * own + lossError * lossError;
    if (!main) {
      sum -= 0.5 * (Math.log(lossVariance) + Math.min(MOST_MISFIT, (loss * loss) / lossVariance));
      continue;
    }
    const mainVariance = spread * spread + main.error * main.error;
    const together = slope * spread * spread;
    const determinant = lossVariance * mainVariance - together * together;
    const misfit = lossVariance * main.log ** 2 - 2 * together * main.log * loss + mainVariance * loss * loss;
    sum -= 0.5 * (Math.log(determinant) + Math.min(MOST_MISFIT, misfit / determinant));
  }
  return sum;
}

/** About the medians: a main's few busy hours mustn't move where its calm ones lie. */
function centredPairs(hours: readonly HourPair[]): HourPair[] {
  const lossMiddle = median(hours.map(({ loss }) => loss));
  const mainMiddle = median(hours.flatMap(({ main }) => main?.log ?? []));
  return hours.map(({ loss, lossError, main }) => ({
    loss: loss - lossMiddle,
    lossError,
    main: main && { log: main.log - mainMiddle, error: main.error },
  }));
}

function mean(logs: readonly number[]): number {
  return weighted(logs.map((log) => [log, 1 / logs.length]));
}

/** Logarithm of a weighted mean of values given by their logarithms. */
function weighted(logs: Weighted): number {
  const best = logs.reduce((most, [log]) => Math.max(most, log), Number.NEGATIVE_INFINITY);
  return best + Math.log(logs.reduce((sum, [log, weight]) => sum + weight * Math.exp(log - best), 0));
}
