import type { CyclingCause } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { decayEvidence } from './decay-laws.ts';
import {
  type HourLoss,
  hourDependence,
  hourlyFills,
  hourlyLosses,
  type IdleCycle,
  inletDependence,
  type Slope,
} from './hour-dependence.ts';
import type { PumpRows } from './pump-rows.ts';

/** Odds of 20 to 1 settle it: under that both causes are named. */
const SURE_LOG_ODDS = Math.log(20);
/** No single kind of evidence counts for more: each rests on assumptions of its own. */
const MOST_LOG_ODDS = 4.5;
/** Share of logs in which something else moves a loss: a draw unseen, a leak that changes. */
const OTHERWISE = 0.04;
/** A leak's loss follows nothing: what is left of it in practice. */
const LEAK_SLOPE_ERROR = 0.08;
/** A valve's loss goes as (p − main)ⁿ, the filling as the pump's curve: from these follow their ratios. Common practice, no source. */
const VALVE_FILL_SLOPES = [-0.2, -0.3, -0.45, -0.7, -1, -1.5, -2.2, -3];
const VALVE_FLOW_POWERS = [0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2];
/** Relative spread of the hours' losses: a leak's hardly any, a valve's from a calm main's to a restless one's. */
const LEAK_SPREADS = [0.001, 0.003, 0.006, 0.01, 0.015];
const VALVE_SPREADS = [0.01, 0.02, 0.03, 0.05, 0.08, 0.12];
/** Share of mains that hardly move from hour to hour, and of leaks that do for reasons of their own. Common practice, no source. */
const CALM_MAINS = 0.15;
const LEAST_CALM = 0.04;
const MOST_CALM = 0.7;
/** Relative spread of the hours' filling times under a calm main and under others. */
const CALM_FILL_SPREADS = [0.002, 0.01, 0.02];
const FILL_SPREADS = [0.03, 0.06, 0.12, 0.24];
const RESTLESS_LEAKS = 0.08;

/** One kind of evidence: natural logarithm of the odds for the valve, and the sentence about it where it says something. */
interface Evidence {
  readonly logOdds: number;
  readonly reason: string | undefined;
}

/**
 * Whether water leaves to the air or back to the main: the shape of the decay at rest, and whether the loss follows the
 * main from hour to hour. Each gives odds, their product the verdict.
 */
export function leakOrValve(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  inletBar: ((row: number) => number) | undefined,
  cutInBar: number,
): { readonly causes: readonly CyclingCause[]; readonly reasons: readonly string[] } {
  const parts = inletBar
    ? [byDecay(rows, rests, inletBar, cutInBar), byInlet(rows, rests, inletBar)]
    : [byDecay(rows, rests, undefined, cutInBar), byFilling(rows, rests), bySpread(rows, rests)];
  const logOdds = parts.reduce((sum, part) => sum + Math.max(-MOST_LOG_ODDS, Math.min(MOST_LOG_ODDS, part.logOdds)), 0);
  const first: CyclingCause = logOdds > 0 ? 'check_valve' : 'leak';
  const second: CyclingCause = logOdds > 0 ? 'leak' : 'check_valve';
  return {
    causes: Math.abs(logOdds) >= SURE_LOG_ODDS ? [first] : [first, second],
    reasons: parts.flatMap(({ reason }) => reason ?? []),
  };
}

function byDecay(
  rows: PumpRows,
  rests: readonly IdleCycle[],
  inletBar: ((row: number) => number) | undefined,
  cutInBar: number,
): Evidence {
  const known = inletBar ? rests.map((rest) => inletBar(rest.toRow)).filter((bar) => Number.isFinite(bar)) : [];
  const inlet = known.length > 0 ? median(known) : undefined;
  const decay = decayEvidence(rows, rests, cutInBar, inlet);
  if (!decay) {
    return {
      logOdds: 0,
      reason: 'The pressure at rest is seen too briefly or too coarsely to say what it falls towards.',
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
  return { logOdds: decay.valveOverLeak, reason: said + meaning };
}

/** With the main logged: a valve's loss goes as a power of (p − main), a leak's doesn't follow it. */
function byInlet(rows: PumpRows, rests: readonly IdleCycle[], inletBar: (row: number) => number): Evidence {
  const slope = inletDependence(rows, rests, inletBar);
  return slope ? told(oddsOfSlope(slope, VALVE_FLOW_POWERS)) : { logOdds: 0, reason: undefined };
}

/** Without it: a pump fills faster from a higher main, and shows so how the main moves. */
function byFilling(rows: PumpRows, rests: readonly IdleCycle[]): Evidence {
  const slope = hourDependence(rows, rests);
  return slope ? told(oddsOfSlope(slope, VALVE_FILL_SLOPES)) : { logOdds: 0, reason: undefined };
}

function oddsOfSlope({ slope, standardError }: Slope, ofValve: readonly number[]): number {
  const sd = Math.hypot(standardError, LEAK_SLOPE_ERROR);
  const anything = OTHERWISE * normalDensity(slope, Math.hypot(sd, 1));
  const leak = (1 - OTHERWISE) * normalDensity(slope, sd) + anything;
  const valve =
    ofValve.reduce((sum, usual) => sum + ((1 - OTHERWISE) * normalDensity(slope - usual, sd)) / ofValve.length, 0) +
    anything;
  return Math.log(valve / leak);
}

function told(logOdds: number): Evidence {
  const reason =
    logOdds > 1
      ? 'What is lost at rest grows in the hours in which the main is lower, as water that passes back does.'
      : logOdds < -1
        ? 'What is lost at rest stays the same whether the main is high or low, as a leak to the air does.'
        : undefined;
  return { logOdds, reason };
}

/** A loss alike at all hours speaks for a leak, since hardly a main is. */
function bySpread(rows: PumpRows, rests: readonly IdleCycle[]): Evidence {
  const hours = hourlyLosses(rows, rests);
  if (!hours) return { logOdds: 0, reason: undefined };
  const steady = likelihoodOf(hours, LEAK_SPREADS);
  const moved = likelihoodOf(hours, VALVE_SPREADS);
  const calm = chanceOfCalm(hourlyFills(rows, rests));
  const valve = (1 - calm) * moved + calm * steady;
  const leak = (1 - RESTLESS_LEAKS) * steady + RESTLESS_LEAKS * moved;
  const logOdds = Math.log(valve / leak);
  const reason =
    logOdds < -1
      ? 'What is lost at rest is alike at all hours, as steady as a leak and steadier than most mains.'
      : logOdds > 1
        ? 'What is lost at rest changes from hour to hour, as it does where water passes back to a main that rises and falls.'
        : undefined;
  return { logOdds, reason };
}

/** The chance that the main hardly moves from hour to hour, by how long the pump takes to fill the vessel. */
function chanceOfCalm(fills: readonly HourLoss[] | undefined): number {
  if (!fills) return CALM_MAINS;
  const steady = CALM_MAINS * likelihoodOf(fills, CALM_FILL_SPREADS);
  const moved = (1 - CALM_MAINS) * likelihoodOf(fills, FILL_SPREADS);
  return Math.min(MOST_CALM, Math.max(LEAST_CALM, steady / (steady + moved)));
}

/** Mean likelihood of the hours over spreads between them, relative to the likeliest spread. */
function likelihoodOf(hours: readonly HourLoss[], spreads: readonly number[]): number {
  const logs = spreads.map((spread) => {
    let total = 0;
    let sum = 0;
    let squares = 0;
    let logVariance = 0;
    for (const { log, error } of hours) {
      const variance = error ** 2 + spread ** 2;
      total += 1 / variance;
      sum += log / variance;
      squares += log ** 2 / variance;
      logVariance += Math.log(variance);
    }
    return -0.5 * (squares - sum ** 2 / total + logVariance + Math.log(total));
  });
  return logs.reduce((sum, log) => sum + Math.exp(log) / logs.length, 0);
}

function normalDensity(away: number, sd: number): number {
  return Math.exp(-0.5 * (away / sd) ** 2) / (sd * Math.sqrt(2 * Math.PI));
}
