import { analyse } from '../../../api/analysis/analyse.ts';
import type { AnalysisSite, FindingsDocument } from '../../../api/analysis/findings.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import { type RigLog, type RigStart, runRig } from './booster-rig.ts';
import { type LowMinutes, lowMinutes } from './low-supply-ruler.ts';
import type { RigScenario } from './rig-families.ts';
import { RigRandom } from './rig-random.ts';
import { scoreStates, scoreTrends } from './state-ruler.ts';

/** A label that is hit, missed or claimed without ground. */
export interface Count {
  hit: number;
  missed: number;
  false: number;
}

export interface RigFigures {
  readonly scenario: RigScenario;
  readonly starts: Count;
  /** Matched starts with a mark, and how many are right. */
  readonly demand: { judged: number; right: number; missing: number };
  readonly cyclingDays: Count;
  /** Cycling episodes whose first-named cause is right, of those on days with true cycling; undefined without a cause. */
  readonly causes: { readonly right: number; readonly of: number } | undefined;
  readonly namedFirst: Readonly<Record<string, number>>;
  readonly weakInlet: Count | undefined;
  /** Low supply before the pump, against the street with the pump off. */
  readonly lowSupply: LowMinutes | undefined;
  /** Dry spells, starts and stops that failed; slow wear. */
  readonly states: Count;
  readonly trends: Count;
  /** Faults, sags and low supply that only the pump can have made. */
  readonly pumpBlamed: Readonly<Record<string, number>>;
  readonly boosterErrorS: number | undefined;
  readonly analysisS: number;
}

const DAY_MS = 86_400_000;
const EPISODE_STARTS = 4;
const RAPID_SHOWN_S = 15;
/** Rows further apart may miss a run, and the fall and rise about it, altogether. */
const COARSE_S = 4;
/** Part of the band by which the rows about a run must rise, or nothing of it is in them. */
const SHOWN_RISE = 0.4;

export function measureRig(scenario: RigScenario): RigFigures {
  const log = runRig(scenario.house, new RigRandom(scenario.seed * 31 + scenario.family.length));
  const began = performance.now();
  const found = analyse(columnsOf(scenario, log), siteOf(scenario));
  const analysisS = (performance.now() - began) / 1000;
  return figuresOf(scenario, log, found, analysisS);
}

export function columnsOf(scenario: RigScenario, log: RigLog): Parameters<typeof analyse>[0] {
  return {
    timeMs: log.timeMs,
    pressureBar: scenario.position === 'pump_inlet' ? log.inletBar : log.pressureBar,
    ...(scenario.channels.includes('flow') ? { flowLpm: log.flowLpm } : {}),
    ...(scenario.channels.includes('pump flow') ? { flowLpm: log.pumpFlowLpm } : {}),
    ...(scenario.channels.includes('pump') ? { pumpOn: log.pumpOn } : {}),
    ...(scenario.channels.includes('inlet') ? { inletBar: log.inletBar } : {}),
  };
}

export function siteOf(scenario: RigScenario): AnalysisSite {
  return {
    timeZone: 'UTC',
    intervalS: scenario.house.intervalS,
    sensor: { position: scenario.position, rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
    hasFlowMeter: hasMeter(scenario),
    ...(hasMeter(scenario) ? { meters: scenario.channels.includes('flow') ? 'household' : 'pump' } : {}),
    thresholds: DEFAULT_THRESHOLDS,
  };
}

function hasMeter({ channels }: RigScenario): boolean {
  return channels.includes('flow') || channels.includes('pump flow');
}

/** Whether a column tells of the pump's runs wherever the pressure is read. */
function toldByColumn({ channels }: RigScenario): boolean {
  return channels.includes('pump') || channels.includes('pump flow');
}

export function figuresOf(scenario: RigScenario, log: RigLog, found: FindingsDocument, analysisS: number): RigFigures {
  const { starts, demand } = scoreStarts(scenario, log, found);
  // Before the pump and without its channel starts aren't claimed at all.
  const blind = scenario.position === 'pump_inlet' && !scenario.channels.includes('pump');
  // Rapid cycling falls between rows a minute apart: that days hold it is unknown there, and said to be.
  const rapidShown = scenario.house.intervalS <= RAPID_SHOWN_S;
  const truth = blind ? new Set<string>() : trueCyclingDays(log.starts, rapidShown);
  const claimed = new Set<string>();
  for (const { kind, start, end } of found.cycling) {
    if (kind === 'normal') continue;
    for (let day = dayOf(Date.parse(start)); day <= dayOf(Date.parse(end) - 1); day++) claimed.add(String(day));
  }
  const { stages } = scenario.house;
  const faultMs = log.timeMs[0]! + 1000 * (stages[1]?.fromS ?? 0);
  const named: Record<string, number> = {};
  let right = 0;
  let of = 0;
  for (const { kind, start, causes } of found.cycling) {
    if (kind === 'normal' || !truth.has(String(dayOf(Date.parse(start))))) continue;
    // A small sound vessel's spells before the fault have no cause of that fault.
    if (Date.parse(start) < faultMs) continue;
    // Large draws from a small sound vessel are rapid by themselves; a leak isn't their cause, nor judged by them.
    if (kind === 'rapid_on_demand' && (scenario.cause === 'leak' || scenario.cause === 'check_valve')) continue;
    named[`${kind}:${causes[0]}`] = (named[`${kind}:${causes[0]}`] ?? 0) + 1;
    of++;
    if (causes[0] === scenario.cause) right++;
  }
  const blamed: Record<string, number> = {};
  for (const { kind } of found.faults) if (kind !== 'quantised') blamed[kind] = (blamed[kind] ?? 0) + 1;
  if (scenario.position === 'pump_outlet') {
    if (found.lowSupply.length > 0) blamed['lowSupply'] = found.lowSupply.length;
    const sags = found.sags.filter(({ state }) => state === 'present').length;
    if (sags > 0) blamed['sags'] = sags;
  }
  const booster = found.changes.find(({ kind }) => kind === 'booster');
  return {
    scenario,
    starts,
    demand,
    cyclingDays: setsCompared(truth, claimed),
    causes: scenario.cause && of > 0 ? { right, of } : undefined,
    namedFirst: named,
    weakInlet:
      scenario.channels.includes('inlet') || scenario.position === 'pump_inlet'
        ? scoreWeak(scenario, log.starts, found)
        : undefined,
    lowSupply:
      scenario.position === 'pump_inlet'
        ? lowMinutes(log, found, DEFAULT_THRESHOLDS.lowSupplyBar, scenario.house.inletQuantumBar)
        : undefined,
    states: scoreStates(scenario, log, found),
    trends: scoreTrends(scenario, log, found),
    pumpBlamed: blamed,
    boosterErrorS:
      scenario.boosterAtS === undefined
        ? undefined
        : booster
          ? Math.abs(Date.parse(booster.at) - log.timeMs[0]! - 1000 * scenario.boosterAtS) / 1000
          : Number.POSITIVE_INFINITY,
    analysisS,
  };
}

/**
 * Starts within 3 s or one and a half intervals match one to one. Starts that the rows can't show (a neighbour nearer than
 * two and a half intervals; between coarse rows no reading of the run) count neither way; nor does the first minute.
 */
function scoreStarts(
  scenario: RigScenario,
  log: RigLog,
  found: FindingsDocument,
): Pick<RigFigures, 'starts' | 'demand'> {
  const { house, position, channels } = scenario;
  const truth = log.starts;
  const starts: Count = { hit: 0, missed: 0, false: 0 };
  const demand = { judged: 0, right: 0, missing: 0 };
  if (position === 'pump_inlet' && !toldByColumn(scenario)) return { starts, demand };
  const toleranceMs = Math.max(3_000, 1_500 * house.intervalS);
  const nearMs = 2_500 * house.intervalS;
  const claims = found.pumpStarts.map((start) => ({ ms: Date.parse(start.start), onDemand: start.onDemand }));
  const { claimOf, taken } = nearestFirst(
    truth.map(({ startMs }) => startMs),
    claims.map(({ ms }) => ms),
    toleranceMs,
  );
  truth.forEach((start, i) => {
    const shown =
      start.startMs - (truth[i - 1]?.startMs ?? 0) > nearMs &&
      (truth[i + 1]?.startMs ?? 1e15) - start.startMs > nearMs &&
      rowsShow(scenario, log, start);
    if (!shown) return;
    const claim = claims[claimOf[i]!];
    if (!claim) {
      starts.missed++;
      return;
    }
    starts.hit++;
    if (claim.onDemand === undefined) demand.missing++;
    else {
      demand.judged++;
      if (claim.onDemand === start.onDemand) demand.right++;
    }
  });
  let near = 0;
  claims.forEach((claim, c) => {
    if (taken[c]) return;
    while (near < truth.length && truth[near]!.startMs < claim.ms - nearMs) near++;
    // Without a channel nobody knows when a pump that didn't start began to turn.
    const untold = !channels.includes('pump') && isFailing(scenario, log, claim.ms, nearMs);
    const unshown = truth[near] && truth[near]!.startMs < claim.ms + nearMs && house.intervalS > 1;
    if (!unshown && !untold) starts.false++;
  });
  return { starts, demand };
}

/** Whether any row between coarse ones caught the run: a channel's that says on, or readings that rise with it. */
function rowsShow(scenario: RigScenario, log: RigLog, { startMs, stopMs }: RigStart): boolean {
  const { house, channels } = scenario;
  if (!channels.includes('pump') && isFailing(scenario, log, startMs, 1000 * house.intervalS)) return false;
  if (house.intervalS <= COARSE_S) return true;
  const rowAt = (atMs: number): number => Math.floor((atMs - log.timeMs[0]!) / (1000 * house.intervalS));
  const before = rowAt(startMs);
  const after = Math.min(log.timeMs.length - 1, rowAt(stopMs ?? startMs) + 1);
  if (channels.includes('pump')) {
    for (let row = before; row <= after; row++) if (log.pumpOn[row] === 1) return true;
  }
  if (channels.includes('pump flow')) {
    for (let row = before; row <= after; row++) if (log.pumpFlowLpm[row]! > 0) return true;
  }
  const plan = house.stages.reduce((last, stage) =>
    stage.fromS <= (startMs - log.timeMs[0]!) / 1000 ? stage : last,
  ).plan;
  const low = Math.min(log.pressureBar[before]!, log.pressureBar[before + 1] ?? Number.POSITIVE_INFINITY);
  let high = Number.NEGATIVE_INFINITY;
  for (let row = before + 1; row <= after; row++) high = Math.max(high, log.pressureBar[row]!);
  return high - low >= SHOWN_RISE * (plan.cutOutBar - plan.cutInBar);
}

/** Whether a pump that doesn't start is the reason why none is seen to at a time. */
function isFailing({ house }: RigScenario, log: RigLog, atMs: number, nearMs: number): boolean {
  const fromMs = (k: number): number => log.timeMs[0]! + 1000 * (house.stages[k]?.fromS ?? Number.POSITIVE_INFINITY);
  return house.stages.some(
    ({ plan }, k) => plan.neverStarts && atMs >= fromMs(k) - nearMs && atMs <= fromMs(k + 1) + nearMs,
  );
}

/** One-to-one pairs within the tolerance, the nearest first; -1 where a label has none. */
function nearestFirst(
  labels: readonly number[],
  claims: readonly number[],
  tolerance: number,
): { claimOf: Int32Array; taken: boolean[] } {
  const pairs: [number, number, number][] = [];
  let first = 0;
  labels.forEach((label, i) => {
    while (first < claims.length && claims[first]! < label - tolerance) first++;
    for (let c = first; c < claims.length && claims[c]! <= label + tolerance; c++) {
      pairs.push([Math.abs(claims[c]! - label), i, c]);
    }
  });
  pairs.sort((a, b) => a[0] - b[0]);
  const claimOf = new Int32Array(labels.length).fill(-1);
  const taken = claims.map(() => false);
  for (const [, i, c] of pairs) {
    if (claimOf[i]! >= 0 || taken[c]) continue;
    claimOf[i] = c;
    taken[c] = true;
  }
  return { claimOf, taken };
}

/** Days with an episode by the definition, from the labels alone. */
function trueCyclingDays(truth: readonly RigStart[], rapidShown: boolean): Set<string> {
  const days = new Set<string>();
  for (const [onDemand, apartMs] of [
    [false, 20 * 60_000],
    [true, 15_000],
  ] as const) {
    if (onDemand && !rapidShown) continue;
    let run: RigStart[] = [];
    const close = (): void => {
      if (run.length >= EPISODE_STARTS) {
        for (let day = dayOf(run[0]!.startMs); day <= dayOf(run[run.length - 1]!.startMs); day++) days.add(String(day));
      }
      run = [];
    };
    for (const start of truth) {
      const last = run[run.length - 1];
      if (start.onDemand !== onDemand || (last && start.startMs - last.startMs > apartMs)) close();
      if (start.onDemand === onDemand) run.push(start);
    }
    close();
  }
  return days;
}

function scoreWeak({ house }: RigScenario, truth: readonly RigStart[], found: FindingsDocument): Count {
  const toleranceMs = Math.max(4_000, 2_000 * house.intervalS);
  const count: Count = { hit: 0, missed: 0, false: 0 };
  // What lasts less than an interval, or lies within noise of the limit, need not be found.
  const margin = Math.max(0.01, 1.5 * Math.hypot(house.noiseBar, house.inletQuantumBar / 2));
  const spells = found.weakInlet.map(({ start, end }) => ({ from: Date.parse(start), to: Date.parse(end) }));
  const taken = spells.map(() => false);
  for (const start of truth) {
    if (start.weakFromMs === undefined) continue;
    const toMs = start.weakToMs!;
    const optional =
      start.lowestInletBar > 0.3 - margin || toMs - start.weakFromMs < 1_000 * Math.max(1.5, house.intervalS);
    const at = spells.findIndex(
      (spell, s) => !taken[s] && spell.from <= toMs + toleranceMs && spell.to >= start.weakFromMs! - toleranceMs,
    );
    if (at >= 0) taken[at] = true;
    if (optional) continue;
    if (at >= 0) count.hit++;
    else count.missed++;
  }
  // A spell in a run that came close to the limit is no error either.
  spells.forEach((spell, s) => {
    if (taken[s]) return;
    const close = truth.some(
      (start) =>
        start.lowestInletBar < 0.3 + margin &&
        spell.from <= (start.stopMs ?? start.startMs) + toleranceMs &&
        spell.to >= start.startMs - toleranceMs,
    );
    if (!close) count.false++;
  });
  return count;
}

function setsCompared(truth: ReadonlySet<string>, claimed: ReadonlySet<string>): Count {
  let hit = 0;
  for (const day of claimed) if (truth.has(day)) hit++;
  return { hit, missed: truth.size - hit, false: claimed.size - hit };
}

function dayOf(atMs: number): number {
  return Math.floor(atMs / DAY_MS);
}

/** NaN where there is neither label nor claim. */
export function f1(count: Count): number {
  return (2 * count.hit) / (2 * count.hit + count.missed + count.false);
}

export function sumOf(counts: readonly Count[]): Count {
  return counts.reduce(
    (sum, count) => ({
      hit: sum.hit + count.hit,
      missed: sum.missed + count.missed,
      false: sum.false + count.false,
    }),
    { hit: 0, missed: 0, false: 0 },
  );
}
