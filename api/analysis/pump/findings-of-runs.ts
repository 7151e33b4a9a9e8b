import { formatRfc3339 } from '../../../collector/model/instant.ts';
import { BAR_PER_METRE_OF_WATER } from '../../../collector/model/units.ts';
import type {
  AnalysisSite,
  Change,
  Cycling,
  CyclingDay,
  Evidence,
  InletPull,
  MeterPlace,
  PumpCurveCheck,
  PumpLitres,
  PumpStart,
  PumpState,
  PumpTrend,
  WeakInlet,
} from '../findings.ts';
import type { MarkedFault } from '../quality/marked-fault.ts';
import { median } from '../statistics/quantile.ts';
import { runsWithCutOnes } from './channel-spells.ts';
import { chatterSpells } from './coarse-chatter.ts';
import { idleRestsOf, rankCauses, rankChatter } from './cycling-causes.ts';
import { cyclingDays } from './cycling-days.ts';
import { markByFlow, type RestHabits, restHabits } from './demand.ts';
import { cyclingEpisodes, EPISODE_STARTS, type Episode, RAPID_APART_MS } from './episodes.ts';
import type { IdleCycle } from './hourly-rates.ts';
import { inletColumnOf } from './inlet-column.ts';
import { inletPullOf, runPulls } from './inlet-pulls.ts';
import { inletRuns } from './inlet-runs.ts';
import { boostedAt, type KnownRuns, knownRuns, type TimedColumn } from './known-runs.ts';
import { type LeakOrValve, leakOrValve, leakOrValveByDay } from './leak-or-valve.ts';
import type { MeterHabits } from './metered-runs.ts';
import { nextSteps } from './next-steps.ts';
import { curveStatements, operatingPoints } from './operating-points.ts';
import { type PulledStretch, pulledStretches } from './pulled-stretches.ts';
import type { PumpGrain } from './pump-grain.ts';
import { pumpLimits, STARTS_SHOWN_S } from './pump-limits.ts';
import { litresStatements, pumpLitres, usableIndex } from './pump-litres.ts';
import {
  episodeKey,
  keptEpisode,
  keptVerdict,
  nothingKept,
  type PumpMemory,
  type ToldEpisode,
  type Verdict,
} from './pump-memory.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { pumpQuestions, pumpStatements } from './pump-statements.ts';
import { pumpStates } from './pump-states.ts';
import { pumpTrends, trendStatements } from './pump-trends.ts';
import { markOn } from './settled-marks.ts';
import { pumpStartsOf } from './start-figures.ts';
import { stateStatements } from './state-statements.ts';
import type { SwitchLevelsSpan } from './switch-levels.ts';
import { toldStates } from './told-states.ts';
import { weakInletByRun } from './weak-inlet.ts';
import { wearQuestion } from './wear-steps.ts';

const NO_START_SEEN =
  'The pump was already on wherever the log begins or a gap ends, and no start was seen: how it starts and cycles can’t be told.';
/** A run whose stop is not seen is followed no further than this. */
const LONGEST_UNSTOPPED_MS = 3 * 3_600_000;
/** Where a transducer's range isn't known it ends at nought, as most do. Common practice, no source. */
const USUAL_RANGE_END_BAR = 0;

export interface PumpResult {
  readonly pumpStarts: PumpStart[];
  readonly cycling: Cycling[];
  readonly cyclingDays: CyclingDay[];
  readonly weakInlet: WeakInlet[];
  readonly inletPull: InletPull | undefined;
  /** Of the column before the pump. */
  readonly faults: readonly MarkedFault[];
  readonly changes: Change[];
  readonly states: PumpState[];
  readonly trends: PumpTrend[];
  readonly litres: PumpLitres | undefined;
  readonly curve: PumpCurveCheck | undefined;
  readonly statements: Evidence['statements'][number][];
  readonly open: string[];
  readonly limits: string[];
  /** When the pump may have pulled its inlet down: its runs, told by a channel or seen in the pressure, and the recovery. */
  readonly pulled: readonly PulledStretch[];
}

/** What must be known before the first reading is judged: estimated once from what is there. */
export interface PumpParameters {
  readonly site: AnalysisSite;
  readonly grain: PumpGrain;
  /** Cut-in and cut-out by span of time; the last span's hold on after its end. */
  readonly levels: readonly SwitchLevelsSpan[];
  /** How a flow meter behaves that may sit on the pump's line; undefined where none does. */
  readonly meterHabits?: MeterHabits | undefined;
  /** Where it sits; where that is missing the site and what there is say it, if they can. */
  readonly meter?: MeterPlace | 'unknown';
  /** How the plant rests; where they are missing they are estimated from what there is. */
  readonly habits?: RestHabits | undefined;
}

/** Columns of one length, ascending and unique in time; NaN marks a reading that is missing or unusable. */
export interface PumpChunk {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm?: Float64Array | undefined;
  readonly pumpOn?: Float64Array | undefined;
  /** Pressure before the pump, where `pressureBar` is the one behind it. */
  readonly inletBar?: Float64Array | undefined;
}

/** How the plant usually rests, from a whole log and the runs that its pressure shows; undefined away from the outlet. */
export function habitsOf(
  input: PumpChunk,
  rows: PumpRows,
  shown: readonly PumpRun[],
  parameters: PumpParameters,
): RestHabits | undefined {
  if (parameters.site.sensor.position !== 'pump_outlet' || rows.timeMs.length === 0) return undefined;
  const { runs, drawn } = knownRuns(input, rows, shown, parameters, nothingKept());
  return restHabits(rows, runs, drawn);
}

/** Where the flow meter sits, from a whole log. */
export function meterOf(
  input: PumpChunk,
  rows: PumpRows,
  shown: readonly PumpRun[],
  parameters: PumpParameters,
): MeterPlace | 'unknown' {
  return knownRuns(input, rows, shown, parameters, nothingKept()).meter;
}

/** Everything that follows from a log and the runs that its pressure shows; `memory` is of the same watch. */
export function findingsOf(
  input: PumpChunk,
  rows: PumpRows,
  shown: readonly PumpRun[],
  parameters: PumpParameters,
  memory: PumpMemory = nothingKept(),
): PumpResult {
  const { timeMs } = input;
  const { site, levels } = parameters;
  const atOutlet = site.sensor.position === 'pump_outlet';
  const seconds = rows.intervalMs / 1000;
  const found = knownRuns(input, rows, shown, parameters, memory);
  const { changes, drawn, column } = found;
  const hasChannel = found.by === 'channel';
  let { runs } = found;
  if (rows.timeMs.length > 0 && seconds <= 60) {
    if (found.pressureTells) {
      runs = markOn(memory.marks, rows, runs, drawn, parameters.habits ?? restHabits(rows, runs, drawn));
    } else if (drawn) runs = markByFlow(rows, runs, drawn);
  }
  // Between rows a minute apart a draw and its refill both vanish: a mark would be a guess.
  const marked = seconds <= STARTS_SHOWN_S * 1.5 ? runs : runs.map(({ onDemand: _guess, ...run }) => run);
  const pumpStarts = pumpStartsOf(rows, marked, found.gaps, { atOutlet, hasChannel }, memory.starts);

  const litres = atOutlet ? pumpLitres(rows, runs, drawn, site) : undefined;
  const ownInlet = site.sensor.position === 'pump_inlet';
  const told = column ? runsWithCutOnes(runs, found.spells, rows) : runs;
  const judged = ownInlet ? withInletRuns(told, rows, column) : told;
  const judgedSpans = spansOf(judged, rows);

  const sensor = { rangeBar: site.inletSensor?.rangeBar, topBar: site.sensor.rangeBar[1] };
  const beside = inletColumnOf(timeMs, input.inletBar, seconds, sensor, judgedSpans);
  const besideRows = beside?.rows;
  const episodes = cyclingEpisodes(runs);
  const rapidOnDemand = episodes.some((episode) => episode.kind === 'rapid_on_demand');
  const inletBar = besideRows ? atOutletsHeight(valuesByRow(rows, besideRows.timeMs, besideRows.bar), site) : undefined;
  // What an inlet's own cleaning makes of its readings may change with each that comes: nothing is kept beside one.
  const kept = besideRows ? nothingKept() : memory;
  const verdicts: Verdict[] = [];
  const judge = (near: readonly IdleCycle[]): LeakOrValve => {
    const verdict = keptVerdict(kept, near) ?? { rests: near, told: leakOrValve(rows, near, inletBar) };
    verdicts.push(verdict);
    return verdict.told;
  };
  const plant = {
    rapidOnDemand,
    drawnRestMs: drawnRestMs(episodes),
    leakOrValve: leakOrValveByDay(rows, idleRestsOf(runs), judge),
    litresPerIndex: litres?.usable ? litres.usable.litres / usableIndex(runs) : undefined,
  };
  const toldEpisodes = new Map<string, ToldEpisode>();
  const counted = episodes.map((episode) => {
    const told = episode.kind === 'no_demand' ? plant.leakOrValve(episode.runs[0]!.startMs) : undefined;
    const judgedBy = [plant.rapidOnDemand, plant.drawnRestMs, plant.litresPerIndex, told];
    const cycling = keptEpisode(kept, episode, judgedBy) ?? toCycling(rows, episode, plant);
    toldEpisodes.set(episodeKey(episode), { episode, judgedBy, cycling });
    return cycling;
  });
  kept.verdicts = verdicts;
  kept.episodes = toldEpisodes;
  const cycling = withChatter(rows, counted, levels, site.timeZone);

  const inletRows = besideRows ?? (ownInlet ? rows : undefined);
  const pulled = inletRows ? pulledStretches(inletRows, judgedSpans) : [];
  const pulls = inletRows ? runPulls(inletRows, pulled) : [];
  const rangeEndBar = ownInlet ? site.sensor.rangeBar[0] : (site.inletSensor?.rangeBar?.[0] ?? USUAL_RANGE_END_BAR);
  const weakByRun = inletRows
    ? weakInletByRun(inletRows, judgedSpans, site.thresholds.weakInletBar, pulls, rangeEndBar)
    : [];
  const weakInlet = weakByRun.flatMap((weak) => weak ?? []);
  const isWeak = weakByRun.map((weak) => weak !== undefined);
  const inletPull = inletPullOf(pulls, pulled, isWeak, site.timeZone);
  const channel = input.pumpOn && hasChannel ? { timeMs, on: input.pumpOn } : undefined;
  const span = { startMs: rows.timeMs[0] ?? 0, endMs: rows.timeMs[rows.timeMs.length - 1] ?? 0 };
  const trends = atOutlet ? pumpTrends(rows, runs, site.timeZone) : [];
  const flowAt = input.flowLpm ? valuesByRow(rows, timeMs, input.flowLpm) : undefined;
  const curve = atOutlet ? operatingPoints(rows, runs, site.pump?.curve, inletBar, flowAt) : undefined;
  const known = {
    curve: site.pump?.curve !== undefined,
    inlet: inletBar !== undefined,
    flow: hasFlow(input),
    channel: hasChannel,
    check: curve,
  };
  const shownStates = pumpStates(rows, runs, judged, levels, channel, site, (atMs) => boostedAt(changes, atMs));
  const states = toldStates(shownStates, levels, site, known);
  const worn = states.some(({ kind }) => kind === 'runs_on') ? wearQuestion(known) : undefined;

  return {
    pumpStarts,
    cycling,
    cyclingDays: cyclingDays(cycling, pumpStarts, site.timeZone),
    weakInlet,
    inletPull,
    faults: beside?.faults ?? [],
    changes,
    states,
    trends,
    litres,
    curve,
    statements: [
      ...pumpStatements(cycling, weakInlet, inletPull, changes, site, span),
      ...stateStatements(states, site),
      ...trendStatements(trends),
      ...litresStatements(litres),
      ...curveStatements(curve),
    ],
    open: [...pumpQuestions(cycling, atOutlet && !besideRows), ...(worn === undefined ? [] : [worn])],
    limits: [
      ...pumpLimits(seconds, site.sensor.position, found.by, flowsBeside(input, found)),
      ...(runs.length === 0 && judged.some(({ startUnseen }) => startUnseen) ? [NO_START_SEEN] : []),
    ],
    pulled: ownInlet ? pulled : [],
  };
}

function toCycling(rows: PumpRows, episode: Episode, plant: Parameters<typeof rankCauses>[2]): Cycling {
  const { causes, reasons, ranking } = rankCauses(rows, episode, plant);
  const first = episode.runs[0]!;
  const last = episode.runs[episode.runs.length - 1]!;
  return {
    start: formatRfc3339(first.startMs),
    end: formatRfc3339(last.stopMs ?? last.startMs + rows.intervalMs),
    kind: episode.kind,
    starts: episode.runs.length,
    startsPerHour: episode.startsPerHour,
    causes,
    reasons,
    ranking,
    nextSteps: nextSteps(causes),
  };
}

/** Adds the spells of rapid cycling that coarse rows show only as a whole. */
function withChatter(
  rows: PumpRows,
  counted: readonly Cycling[],
  spans: readonly SwitchLevelsSpan[],
  timeZone: string,
): Cycling[] {
  const spells = chatterSpells(rows, spans, timeZone);
  const chatter = spells.map((spell): Cycling => {
    const startMs = rows.timeMs[spell.fromRow]!;
    const endMs = rows.timeMs[spell.toRow]! + rows.intervalMs;
    const { causes, reasons, ranking } = rankChatter(spell);
    return {
      start: formatRfc3339(startMs),
      end: formatRfc3339(endMs),
      kind: 'rapid_on_demand',
      starts: Math.max(EPISODE_STARTS, Math.floor((endMs - startMs) / RAPID_APART_MS)),
      startsPerHour: 3_600_000 / RAPID_APART_MS,
      startsAtLeast: true,
      causes,
      reasons,
      ranking,
      nextSteps: nextSteps(causes),
    };
  });
  // What the aliased starts of such a spell would make of it, a leak say, falls to the spell itself.
  const inChatter = ({ start, end }: Cycling): boolean =>
    chatter.some((spell) => start < spell.end && end > spell.start);
  return [...counted.filter((episode) => !inChatter(episode)), ...chatter].sort((a, b) => (a.start < b.start ? -1 : 1));
}

/** What a flow meter that doesn't tell the runs sees; undefined where there is none or it isn't needed. */
function flowsBeside(input: PumpChunk, { by, meter }: KnownRuns): MeterPlace | 'unknown' | undefined {
  return by !== 'flow' && hasFlow(input) ? meter : undefined;
}

function hasFlow({ flowLpm }: PumpChunk): boolean {
  return flowLpm?.some((lpm) => !Number.isNaN(lpm)) ?? false;
}

/** From start to stop; where that is unseen to the next start, past the last row, or as far as a run is followed. */
function spansOf(runs: readonly PumpRun[], { timeMs, intervalMs }: PumpRows): PulledStretch[] {
  const lastMs = (timeMs[timeMs.length - 1] ?? 0) + intervalMs;
  return runs.map(({ startMs, stopMs }, k) => ({
    startMs,
    endMs: stopMs ?? Math.min(runs[k + 1]?.startMs ?? lastMs, startMs + LONGEST_UNSTOPPED_MS),
  }));
}

/** Adds to a column's runs those that the inlet shows where the column tells nothing; all of them without one. */
function withInletRuns(told: readonly PumpRun[], rows: PumpRows, column: TimedColumn | undefined): readonly PumpRun[] {
  const shown = inletRuns(rows);
  if (!column) return shown;
  const { timeMs, values } = column;
  let row = 0;
  const untold = shown.filter(({ startMs, stopMs }) => {
    while (row < timeMs.length && timeMs[row]! < startMs) row++;
    for (let i = row; i < timeMs.length && timeMs[i]! < stopMs!; i++) if (!Number.isNaN(values[i]!)) return false;
    return !told.some((run) => run.startMs < stopMs! && (run.stopMs ?? run.startMs) > startMs);
  });
  return untold.length === 0 ? told : [...told, ...untold].sort((a, b) => a.startMs - b.startMs);
}

/** The inlet as the transducer behind the pump would read it at its own height, where both heights are known. */
function atOutletsHeight(inletBar: (row: number) => number, site: AnalysisSite): (row: number) => number {
  const inletM = site.inletSensor?.heightAboveSupplyPointM;
  if (inletM === undefined) return inletBar;
  const lift = BAR_PER_METRE_OF_WATER * (inletM - site.sensor.heightAboveSupplyPointM);
  return (row) => inletBar(row) + lift;
}

/** Usual rest between starts in rapid succession. */
function drawnRestMs(episodes: readonly Episode[]): number {
  const rests: number[] = [];
  for (const { kind, runs } of episodes) {
    if (kind !== 'rapid_on_demand') continue;
    for (let k = 1; k < runs.length; k++) {
      const stopMs = runs[k - 1]!.stopMs;
      if (stopMs !== undefined) rests.push(runs[k]!.startMs - stopMs);
    }
  }
  return median(rests);
}

/** A column's values by the row of the usable readings, NaN where it has none at that time. */
function valuesByRow(rows: PumpRows, timeMs: Float64Array, values: Float64Array): (row: number) => number {
  const byRow = new Float64Array(rows.timeMs.length);
  let i = 0;
  for (let row = 0; row < byRow.length; row++) {
    while (timeMs[i]! < rows.timeMs[row]!) i++;
    byRow[row] = timeMs[i] === rows.timeMs[row] ? values[i]! : Number.NaN;
  }
  return (row) => byRow[row]!;
}
