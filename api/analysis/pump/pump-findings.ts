import { formatRfc3339 } from '../../../collector/model/instant.ts';
import type { AnalysisSite, Change, Cycling, Evidence, PumpStart, WeakInlet } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { boosterChanges } from './booster-change.ts';
import { channelRuns, withShortRuns } from './channel-runs.ts';
import { idleRestsOf, rankCauses } from './cycling-causes.ts';
import { markDemand } from './demand.ts';
import { cyclingEpisodes, type Episode } from './episodes.ts';
import { inletRuns } from './inlet-runs.ts';
import { nextSteps } from './next-steps.ts';
import { outletRuns } from './outlet-runs.ts';
import { type PumpRows, pumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';
import { switchLevels } from './switch-levels.ts';
import { weakInlets } from './weak-inlet.ts';

/** Columns of one length, ascending and unique in time; NaN marks a reading that is missing or unusable. */
export interface PumpInput {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm?: Float64Array | undefined;
  readonly pumpOn?: Float64Array | undefined;
  /** Pressure before the pump, where `pressureBar` is the one behind it. */
  readonly inletBar?: Float64Array | undefined;
  readonly site: AnalysisSite;
  readonly intervalS: number;
  /** Standard deviation of the sensor's noise. */
  readonly noiseBar: number;
  /** The converter's step; nought where none shows. */
  readonly quantumBar: number;
}

export interface PumpResult {
  readonly pumpStarts: PumpStart[];
  readonly cycling: Cycling[];
  readonly weakInlet: WeakInlet[];
  readonly changes: Change[];
  readonly statements: Evidence['statements'][number][];
  readonly open: string[];
  readonly limits: string[];
  /** When the pump ran, whether told by a channel or seen in the pressure; `endMs` may be the next start where a stop is unseen. */
  readonly pumpRuns: { startMs: number; endMs: number }[];
}

/** Up to this interval a pressure alone shows single starts of a household's pump. */
const STARTS_SHOWN_S = 10;
/** Up to this interval a channel shows every run of a pump with a sound vessel. */
const CHANNEL_WHOLE_S = 4;
/** Up to this interval starts 15 s apart can be told from one another. */
const RAPID_SHOWN_S = 5;

/**
 * What a pump does: starts, demand marks, cycling with its causes, a weak inlet, a booster fitted or removed. Pure;
 * linear time but for sorting a log's turning points.
 */
export function findPump(input: PumpInput): PumpResult {
  const { timeMs, site, intervalS, noiseBar, quantumBar } = input;
  const rows = pumpRows(timeMs, input.pressureBar, intervalS, noiseBar, quantumBar);
  const atOutlet = site.sensor.position === 'pump_outlet';
  const hasChannel = input.pumpOn?.some((value) => !Number.isNaN(value)) ?? false;
  const seconds = rows.intervalMs / 1000;

  let runs: PumpRun[] = [];
  if (hasChannel) runs = channelRuns(timeMs, input.pumpOn!, rows, atOutlet);
  if (atOutlet && (!hasChannel || seconds > CHANNEL_WHOLE_S)) {
    const shown = outletRuns(rows, switchLevels(rows));
    runs = hasChannel ? withShortRuns(runs, shown, rows) : shown;
  }
  if (atOutlet && rows.timeMs.length > 0 && seconds <= 60) {
    runs = markDemand(rows, runs, input.flowLpm ? { timeMs, lpm: input.flowLpm } : undefined);
  }
  // Between rows a minute apart a draw and its refill both vanish: a mark would be a guess.
  const marked = seconds <= STARTS_SHOWN_S * 1.5 ? runs : runs.map(({ onDemand: _guess, ...run }) => run);
  const pumpStarts = marked.map(toPumpStart);

  const inletColumn = input.inletBar?.some((value) => !Number.isNaN(value)) ? input.inletBar : undefined;
  const episodes = atOutlet ? cyclingEpisodes(runs) : [];
  const rapidOnDemand = episodes.some((episode) => episode.kind === 'rapid_on_demand');
  const inletBar = inletColumn ? inletByRow(rows, timeMs, inletColumn) : undefined;
  const plant = { inletBar, rapidOnDemand, idleRests: idleRestsOf(runs), drawnRestMs: drawnRestMs(episodes) };
  const cycling = episodes.map((episode) => toCycling(rows, episode, plant));

  const ownInlet = site.sensor.position === 'pump_inlet';
  const inletRows = inletColumn
    ? pumpRows(timeMs, inletColumn, intervalS, noiseBar, quantumBar)
    : ownInlet
      ? rows
      : undefined;
  const judged = hasChannel || !ownInlet ? runs : inletRuns(rows);
  const weakInlet = inletRows ? weakInlets(inletRows, judged, site.thresholds.weakInletBar) : [];
  const changes = atOutlet ? boosterChanges(rows, runs) : [];

  return {
    pumpStarts,
    cycling,
    weakInlet,
    changes,
    statements: statementsOf(cycling, weakInlet, changes, site),
    open: openOf(cycling, atOutlet && !inletColumn),
    limits: limitsOf(atOutlet || hasChannel, hasChannel, seconds),
    pumpRuns: judged.map((run, k) => ({ startMs: run.startMs, endMs: endOf(run, judged[k + 1], rows) })),
  };
}

function toPumpStart(run: PumpRun): PumpStart {
  return {
    start: formatRfc3339(run.startMs),
    ...(run.stopMs === undefined ? {} : { stop: formatRfc3339(run.stopMs) }),
    ...(run.onDemand === undefined ? {} : { onDemand: run.onDemand }),
    ...(run.cutInBar === undefined ? {} : { cutInBar: run.cutInBar }),
    ...(run.cutOutBar === undefined ? {} : { cutOutBar: run.cutOutBar }),
  };
}

function toCycling(rows: PumpRows, episode: Episode, plant: Parameters<typeof rankCauses>[2]): Cycling {
  const { causes, reasons } = rankCauses(rows, episode, plant);
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
    nextSteps: nextSteps(causes),
  };
}

function endOf(run: PumpRun, next: PumpRun | undefined, rows: PumpRows): number {
  return run.stopMs ?? next?.startMs ?? rows.timeMs[rows.timeMs.length - 1] ?? run.startMs;
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

function inletByRow(rows: PumpRows, timeMs: Float64Array, inletBar: Float64Array): (row: number) => number {
  const byRow = new Float64Array(rows.timeMs.length);
  let i = 0;
  for (let row = 0; row < byRow.length; row++) {
    while (timeMs[i]! < rows.timeMs[row]!) i++;
    byRow[row] = inletBar[i]!;
  }
  return (row) => byRow[row]!;
}

function statementsOf(
  cycling: readonly Cycling[],
  weakInlet: readonly WeakInlet[],
  changes: readonly Change[],
  site: AnalysisSite,
): Evidence['statements'][number][] {
  const statements: Evidence['statements'][number][] = [];
  const idle = cycling.filter((episode) => episode.kind === 'no_demand');
  if (idle.length > 0) {
    const starts = idle.reduce((sum, episode) => sum + episode.starts, 0);
    statements.push({
      text: `The pump started ${starts} times with nobody drawing water, in ${idle.length} spells of cycling.`,
      certainty: 'certain',
    });
  }
  const rapid = cycling.filter((episode) => episode.kind === 'rapid_on_demand');
  if (rapid.length > 0) {
    statements.push({
      text: `While water was drawn the pump started at most 15 s apart, in ${rapid.length} spells.`,
      certainty: 'certain',
    });
  }
  if (weakInlet.length > 0) {
    const lowest = weakInlet.reduce((least, spell) => Math.min(least, spell.minBar), Number.POSITIVE_INFINITY);
    statements.push({
      text:
        `In ${weakInlet.length} runs of the pump its inlet fell below ${site.thresholds.weakInletBar} bar, the lowest ` +
        `being ${lowest.toFixed(2)} bar. A pump must not pull the main towards the air’s pressure: ask the supplier, and ` +
        'have a cut-off for low inlet pressure fitted by a licensed person.',
      certainty: 'certain',
    });
  }
  for (const change of changes) {
    const what = change.toBar > change.fromBar ? 'fitted' : 'removed';
    statements.push({
      text: `A booster was ${what}: the reading went from ${change.fromBar.toFixed(2)} to ${change.toBar.toFixed(2)} bar.`,
      certainty: 'certain',
    });
  }
  return statements;
}

function openOf(cycling: readonly Cycling[], noInlet: boolean): string[] {
  const doubtful = cycling.some(({ causes }) => causes.includes('leak') && causes.includes('check_valve'));
  if (!doubtful) return [];
  return [
    'Whether water leaks out behind the pump or back through its check valve isn’t settled' +
      (noInlet
        ? ': a second transducer before the pump, or an hour with the valve after the pump shut, would tell.'
        : '.'),
  ];
}

function limitsOf(applies: boolean, hasChannel: boolean, seconds: number): string[] {
  if (!applies) return [];
  const every = `${Math.round(seconds)} s`;
  const limits: string[] = [];
  if (seconds > RAPID_SHOWN_S) {
    limits.push(
      `At a reading every ${every}, starts less than ${Math.round(2 * seconds)} s apart can’t be told apart.`,
    );
  }
  if (seconds > STARTS_SHOWN_S * 1.5) {
    limits.push(
      hasChannel
        ? `At a reading every ${every}, runs shorter than that are missed, and whether a start was on demand isn’t told.`
        : `At a reading every ${every}, only starts with minutes between them show in the pressure; short cycles, and ` +
            'whether a start was on demand, don’t.',
    );
  }
  return limits;
}
