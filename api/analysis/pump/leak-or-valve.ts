import type { CauseFigure, CauseOdds, CyclingCause } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { inletFigure, lossByHourFigure, targetFigure } from './cause-figures.ts';
import { type DecayBin, decayBins } from './decay-bins.ts';
import { decayEvidence } from './decay-laws.ts';
import { hourPairs, type IdleCycle } from './hourly-rates.ts';
import { oddsByMain } from './loss-and-main.ts';
import type { PumpRows } from './pump-rows.ts';

/** Odds of 20 to 1 settle it: under that both causes are named. */
const SURE_ODDS = 20;
const SURE_LOG_ODDS = Math.log(SURE_ODDS);
/** No single kind of evidence counts for more: each rests on assumptions of its own. */
const MOST_LOG_ODDS = 4.5;
/** A valve's loss goes as (p − main)ⁿ, the filling as the pump's curve: from these follow their ratios. Common practice, no source. */
const VALVE_FILL_SLOPES = [-0.2, -0.3, -0.45, -0.7, -1, -1.5, -2.2, -3];
const VALVE_FLOW_POWERS = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2];

/** One kind of evidence: natural logarithm of the odds for the valve, and the sentence about it where it says something. */
interface Evidence {
  readonly logOdds: number;
  readonly reason: string | undefined;
  readonly figures: readonly CauseFigure[];
  /** Without it the odds of one to one say nothing either way. */
  readonly told: boolean;
}

/** Causes in order, likeliest first, both where the odds don't settle it, with the figures that made the order. */
export interface LeakOrValve {
  readonly causes: readonly CyclingCause[];
  readonly reasons: readonly string[];
  readonly figures: readonly CauseFigure[];
  readonly odds: CauseOdds;
}

/**
 * Whether water leaves to the air or back to the main: the shape of the decay at rest, and whether the loss follows the
 * main from hour to hour. Each gives odds, their product the verdict.
 */
export function leakOrValve(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  inletBar: ((row: number) => number) | undefined,
): LeakOrValve {
  const bins = decayBins(rows, rests);
  const decay = byDecay(rows, rests, bins, inletBar);
  const hours = byMain(rows, rests, bins, inletBar);
  const parts = [decay, hours];
  const logOdds = parts.reduce((sum, part) => sum + bounded(part), 0);
  const first: CyclingCause = logOdds > 0 ? 'check_valve' : 'leak';
  const second: CyclingCause = logOdds > 0 ? 'leak' : 'check_valve';
  return {
    causes: Math.abs(logOdds) >= SURE_LOG_ODDS ? [first] : [first, second],
    reasons: parts.flatMap(({ reason }) => reason ?? []),
    figures: parts.flatMap(({ figures }) => figures),
    odds: {
      checkValveToLeak: threeDigits(Math.exp(logOdds)),
      ...(decay.told ? { fromDecay: threeDigits(Math.exp(bounded(decay))) } : {}),
      ...(hours.told ? { fromHours: threeDigits(Math.exp(bounded(hours))) } : {}),
      needed: SURE_ODDS,
      most: Math.round(Math.exp(MOST_LOG_ODDS)),
      probability: threeDigits(1 / (1 + Math.exp(-Math.abs(logOdds)))),
    },
  };
}

function bounded({ logOdds }: Evidence): number {
  return Math.max(-MOST_LOG_ODDS, Math.min(MOST_LOG_ODDS, logOdds));
}

function threeDigits(value: number): number {
  return Number(value.toPrecision(3));
}

/** How leak and check valve are told apart, in words. */
export const ODDS_RULE =
  'A leak and a passing check valve are told apart by odds: the shape of the fall at rest, and whether the loss goes with ' +
  `the main from hour to hour, each give odds of at most ${Math.round(Math.exp(MOST_LOG_ODDS))} to 1, and are multiplied, ` +
  `both being taken as equally common beforehand. From ${SURE_ODDS} to 1 on only the likelier is named, under that both are.`;

const DAY_MS = 24 * 3_600_000;
/** Rests this many days before and after show the same fault: a single day's may be too few, or its main too calm. */
const SAME_FAULT_DAYS = 3;

/**
 * The verdict on the days about a time; once for the same rests, so that a day's episodes agree. `rests` ascend in time.
 * `judge` may know some rests' verdict from before.
 */
export function leakOrValveByDay(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  judge: (near: readonly IdleCycle[]) => LeakOrValve,
): (atMs: number) => LeakOrValve {
  const days = rests.map(({ toRow }) => Math.floor(rows.timeMs[toRow]! / DAY_MS));
  const known = new Map<string, LeakOrValve>();
  return (atMs) => {
    const day = Math.floor(atMs / DAY_MS);
    const from = firstAtLeast(days, day - SAME_FAULT_DAYS);
    const to = firstAtLeast(days, day + SAME_FAULT_DAYS + 1);
    const key = `${from}:${to}`;
    const before = known.get(key);
    if (before) return before;
    const told = judge(rests.slice(from, to));
    known.set(key, told);
    return told;
  };
}

/** Place of the first of ascending numbers that is no less than a limit. */
function firstAtLeast(numbers: readonly number[], limit: number): number {
  let low = 0;
  let high = numbers.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (numbers[middle]! < limit) low = middle + 1;
    else high = middle;
  }
  return low;
}

function byDecay(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  bins: readonly DecayBin[],
  inletBar: ((row: number) => number) | undefined,
): Evidence {
  const known = inletBar ? rests.map((rest) => inletBar(rest.toRow)).filter((bar) => Number.isFinite(bar)) : [];
  const inlet = known.length > 0 ? median(known) : undefined;
  const cutInBar = median(rests.map(({ toRow }) => rows.calmBar[toRow]!));
  const fillMs = median(rests.map(({ toRow, stopRow }) => rows.timeMs[stopRow]! - rows.timeMs[toRow]!));
  const decay = decayEvidence(bins, cutInBar, inlet, fillMs);
  if (!decay) {
    return {
      logOdds: 0,
      reason: 'The pressure at rest is seen too briefly or too coarsely to say what it falls towards.',
      figures: [],
      told: false,
    };
  }
  const said =
    `With the pump at rest the pressure falls as if towards ${decay.targetBar.toFixed(2)} ± ` +
    `${(2 * decay.targetSdBar).toFixed(2)} bar`;
  const meaning =
    inlet !== undefined
      ? `; the inlet stands at ${inlet.toFixed(2)} bar.`
      : Math.abs(decay.valveOverLeak) < 1
        ? ': the open air and a pressure beyond the pump fit about alike.'
        : decay.valveOverLeak > 0
          ? ': a pressure beyond the pump rather than the open air.'
          : ': the open air, as a leak or a dripping outlet would let it.';
  return {
    logOdds: decay.valveOverLeak,
    reason: said + meaning,
    figures: [...targetFigure(decay.targetBar, decay.targetSdBar), ...inletFigure(inlet)],
    told: true,
  };
}

/** With the main logged, or shown by how the pump fills: a valve's loss follows it, a leak's doesn't. */
function byMain(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  bins: readonly DecayBin[],
  inletBar: ((row: number) => number) | undefined,
): Evidence {
  const hours = hourPairs(rows, rests, bins, inletBar);
  if (!hours) return { logOdds: 0, reason: undefined, figures: [], told: false };
  const logOdds = oddsByMain(hours, inletBar ? VALVE_FLOW_POWERS : VALVE_FILL_SLOPES);
  const reason =
    logOdds > 1
      ? 'What is lost at rest changes from hour to hour, as it does where water passes back to a main that rises and falls.'
      : logOdds < -1
        ? 'What is lost at rest is alike at all hours, whether the main is high or low, as a leak to the air is.'
        : undefined;
  const spread = MAD_TO_SIGMA * median(hours.map(({ loss }) => Math.abs(loss)));
  return { logOdds, reason, figures: lossByHourFigure(spread), told: true };
}
