import type { FindingsDocument, PumpStateKind } from '../../../api/analysis/findings.ts';
import type { RigLog, RigPlan } from './booster-rig.ts';
import type { RigScenario } from './rig-families.ts';
import type { Count } from './rig-ruler.ts';

/** A spell in which the built-in failure shows, and the kinds by which it may be told. */
interface StateLabel {
  readonly fromMs: number;
  readonly toMs: number;
  readonly kinds: readonly PumpStateKind[];
}

/** A failure that shows for less need not be told: who draws nothing misses nothing. */
const SHOWN_MS = 3 * 60_000;
/** A pump that stays on for less may be under a long draw. */
const LONG_RUN_MS = 25 * 60_000;
/** How far below cut-in, as part of the band and in noises, the pressure must stay for a failure to show. */
const BELOW_SHARE = 0.35;
const BELOW_IN_NOISE = 5;
/** What is told may begin a little before the failure and outlast it. */
const NEAR_MS = 2 * 60_000;
/** Failures of which something must be told; the other kinds (hours, starts, more drawn than it gives) aren't built in. */
const FAILURES: readonly PumpStateKind[] = ['no_rise', 'did_not_start', 'did_not_stop'];

/** Built-in failures against the states that are told: dry, not started, not stopped. */
export function scoreStates(scenario: RigScenario, log: RigLog, found: FindingsDocument): Count {
  const failing = failingStages(scenario, log);
  const labels = failing.flatMap((stage) => labelsOf(scenario, log, stage));
  const told = (found.pumpStates ?? []).map(({ kind, start, end }) => ({
    kind,
    fromMs: Date.parse(start),
    toMs: Date.parse(end),
  }));
  const hit = labels.filter(({ kinds, fromMs, toMs }) =>
    told.some((state) => kinds.includes(state.kind) && state.fromMs < toMs && state.toMs > fromMs),
  ).length;
  const unfounded = told.filter(
    (state) =>
      FAILURES.includes(state.kind) &&
      !failing.some(({ fromMs, toMs }) => state.fromMs < toMs + NEAR_MS && state.toMs > fromMs - NEAR_MS),
  ).length;
  return { hit, missed: labels.length - hit, false: unfounded };
}

interface FailingStage {
  readonly plan: RigPlan;
  readonly fromMs: number;
  readonly toMs: number;
}

function failingStages({ house }: RigScenario, log: RigLog): FailingStage[] {
  const startMs = log.timeMs[0]!;
  return house.stages.flatMap(({ plan, fromS }, k) => {
    if (!plan.dry && !plan.neverStarts && !plan.neverStops) return [];
    const toS = house.stages[k + 1]?.fromS ?? house.days * 86_400;
    return [{ plan, fromMs: startMs + 1000 * fromS, toMs: startMs + 1000 * toS }];
  });
}

function labelsOf(scenario: RigScenario, log: RigLog, stage: FailingStage): StateLabel[] {
  const hasChannel = scenario.channels.includes('pump');
  if (stage.plan.neverStops) {
    return log.starts.flatMap(({ startMs, stopMs = stage.toMs }) =>
      hasChannel &&
      startMs < stage.toMs &&
      Math.min(stopMs, stage.toMs) - Math.max(startMs, stage.fromMs) >= LONG_RUN_MS
        ? [{ fromMs: startMs, toMs: stopMs, kinds: ['did_not_stop'] }]
        : [],
    );
  }
  // Without a channel a pump that turns without lifting, one that doesn't turn and one that gives too little look alike.
  const kinds: PumpStateKind[] = !hasChannel
    ? ['no_rise', 'did_not_start', 'runs_on']
    : stage.plan.dry
      ? ['no_rise']
      : ['did_not_start'];
  return lowSpells(scenario, log, stage).map((spell) => ({ ...spell, kinds }));
}

/** Spells within a stage in which the readings stay clearly below cut-in. */
function lowSpells({ house }: RigScenario, log: RigLog, { plan, fromMs, toMs }: FailingStage) {
  const bandBar = plan.cutOutBar - plan.cutInBar;
  const noiseBar = Math.hypot(house.noiseBar, house.quantumBar);
  const lowBar = plan.cutInBar - Math.max(BELOW_SHARE * bandBar, BELOW_IN_NOISE * noiseBar);
  const spells: { fromMs: number; toMs: number }[] = [];
  let sinceMs: number | undefined;
  for (let row = 0; row < log.timeMs.length; row++) {
    const atMs = log.timeMs[row]!;
    const isLow = atMs >= fromMs && atMs < toMs && log.pressureBar[row]! < lowBar;
    if (isLow) sinceMs ??= atMs;
    else if (sinceMs !== undefined) {
      if (atMs - sinceMs >= SHOWN_MS) spells.push({ fromMs: sinceMs, toMs: atMs });
      sinceMs = undefined;
    }
  }
  return spells;
}

/** Part of the built-in change that must be told, and how much more. The service pipe takes its share of what a pump loses. */
const WEAR_TOLD = [0.4, 1.6] as const;
/** A drift of the cut-out under this a month need not be told. */
const LEAST_DRIFT_BAR = 0.15;

/** A fill of fewer rows doesn't show how fast it is; a day needs several that do. */
const FILL_SHOWN_ROWS = 5;
const FILLS_SHOWN_A_DAY = 6;

/** Built-in wear and drift against the trends that are told. */
export function scoreTrends({ house }: RigScenario, log: RigLog, found: FindingsDocument): Count {
  const plan = house.stages[house.stages.length - 1]!.plan;
  const wear = 1 - (1 - (plan.dailyWear ?? 0)) ** 30;
  const drift = 30 * (plan.dailyDriftBar ?? 0);
  const told = found.pumpTrends ?? [];
  const count: Count = { hit: 0, missed: 0, false: 0 };
  const judge = (figure: 'filling' | 'cut_out', builtIn: number, least: number): void => {
    const trend = told.find((one) => one.figure === figure);
    const share = trend ? -trend.perMonth / builtIn : 0;
    if (builtIn >= least && least > 0) {
      if (share >= WEAR_TOLD[0] && share <= WEAR_TOLD[1]) count.hit++;
      else count.missed++;
    } else if (trend && builtIn === 0) count.false++;
  };
  const shown = log.starts.filter(
    ({ startMs, stopMs }) => stopMs !== undefined && stopMs - startMs >= 1000 * FILL_SHOWN_ROWS * house.intervalS,
  );
  if (wear === 0 || shown.length >= FILLS_SHOWN_A_DAY * house.days) judge('filling', wear, 0.1);
  judge('cut_out', drift, LEAST_DRIFT_BAR);
  return count;
}
