import type { CauseFigure, CauseRanking, CyclingCause } from '../findings.ts';
import { median, quantile } from '../statistics/quantile.ts';
import {
  bandFigure,
  drawdownFigure,
  drawnRestFigure,
  fillFigure,
  irregularityFigure,
  oddsWords,
  swingFigure,
} from './cause-figures.ts';
import type { Episode } from './episodes.ts';
import type { IdleCycle } from './hourly-rates.ts';
import { type LeakOrValve, ODDS_RULE } from './leak-or-valve.ts';
import { outflowIndex } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** Rests that ended in a start without demand, from stop to start, with the run that followed. */
export function idleRestsOf(runs: readonly PumpRun[]): IdleCycle[] {
  const rests: IdleCycle[] = [];
  for (let k = 1; k < runs.length; k++) {
    const fromRow = runs[k - 1]!.stopRow;
    const run = runs[k]!;
    if (run.onDemand === false && fromRow !== undefined && fromRow < run.startRow) {
      rests.push({ fromRow, toRow: run.startRow, stopRow: run.stopRow ?? run.startRow });
    }
  }
  return rests;
}

export interface RankedCauses {
  readonly causes: readonly CyclingCause[];
  readonly reasons: readonly string[];
  readonly ranking: CauseRanking;
}

/** What the log says about the plant as a whole, for judging one episode. */
export interface PlantFigures {
  /** Whether the same log shows starts in rapid succession while water is drawn. */
  readonly rapidOnDemand: boolean;
  /** Usual time from a stop to the next start while water is drawn; NaN where none is. */
  readonly drawnRestMs: number;
  /** Where the water goes at rest about a time: one episode alone may be too short to show what it falls towards. */
  readonly leakOrValve: (atMs: number) => LeakOrValve;
  /** Litres of the vessel for a change of the outflow index by one; undefined where nothing calibrates it. */
  readonly litresPerIndex: number | undefined;
}

/** A switch's usual band is 1 to 1.5 bar, and spinning down lifts it further; under this it is narrow. Common practice, no source. */
export const NARROW_BAND_BAR = 0.85;
/** About the narrow band, a small vessel and a narrow switch look alike. */
const DOUBTFUL_BANDS_BAR = [0.65, 1.1] as const;
/** Aliased readings keep within the turns: the same limit for them. */
const CHATTER_NARROW_BAR = 0.5;
/** A sound vessel takes several seconds to fill through its band; an empty one is up at once. */
const COLLAPSE_FILL_MS = 1_600;
/** A sound vessel lasts a tap for some ten seconds; an empty one is down in these. Common practice, no source. */
const COLLAPSE_REST_MS = 4_500;
const COLLAPSE_PERIOD_MS = 20_000;
/** Even an empty vessel's band lasts this long at rest unless somebody draws: more often, and the vessel is why. */
const EMPTY_VESSEL_PERIOD_MS = 60_000;
/** Swings faster than this come from a vessel that holds next to nothing; a sound one is slower at any usual draw. */
const COLLAPSE_BAR_PER_S = 0.35;
/** Cycles of at least so many rows show their turns. */
const TURNS_SHOWN_ROWS = 4.5;
/** Parts of the rows of a rapid spell that lie outside its band: the turns themselves fall between rows. */
const SPELL_EDGE = 0.03;

/** Causes of one episode, likeliest first, with the figures that made the order. Where two can't be told, both stand. */
export function rankCauses(rows: PumpRows, episode: Episode, plant: PlantFigures): RankedCauses {
  const [cutIn, cutOut] = bandOf(rows, episode);
  const band = cutOut - cutIn;
  const bandText = Number.isFinite(band)
    ? `The pump starts at ${cutIn.toFixed(2)} bar and stops at ${cutOut.toFixed(2)} bar, a band of ${band.toFixed(2)} bar.`
    : 'Cut-in and cut-out aren’t seen in this log.';
  const regular =
    `${episode.runs.length} starts, ${episode.startsPerHour.toFixed(1)} an hour; the period varies by ` +
    `${Math.round(100 * episode.irregularity)} %.`;
  const litres =
    plant.litresPerIndex === undefined
      ? undefined
      : plant.litresPerIndex * (outflowIndex(cutIn) - outflowIndex(cutOut));
  const figures = [
    ...bandFigure(band, NARROW_BAND_BAR),
    ...drawdownFigure(litres),
    ...irregularityFigure(episode.irregularity),
  ];
  switch (episode.kind) {
    case 'no_demand':
      return withoutDemand(rows, episode.runs, plant, band, { reasons: [regular, bandText], figures });
    case 'rapid_on_demand':
      return onDemand(episode.runs, band, { reasons: [regular, bandText], figures });
    default:
      return episode.kind satisfies never;
  }
}

/**
 * Cut-in and cut-out of an episode. In rapid succession the calmed turns are blunted: there each cycle's outermost raw
 * readings are taken, and all readings where a cycle has too few rows to show its turns.
 */
function bandOf(rows: PumpRows, episode: Episode): readonly [cutInBar: number, cutOutBar: number] {
  const { runs } = episode;
  if (episode.kind === 'no_demand') {
    return [median(runs.flatMap((run) => run.cutInBar ?? [])), median(runs.flatMap((run) => run.cutOutBar ?? []))];
  }
  const last = runs[runs.length - 1]!;
  if (3_600_000 / episode.startsPerHour < TURNS_SHOWN_ROWS * rows.intervalMs) {
    const readings = rows.bar.subarray(runs[0]!.startRow, (last.stopRow ?? last.startRow) + 1);
    return [quantile(readings, SPELL_EDGE), quantile(readings, 1 - SPELL_EDGE)];
  }
  const lows: number[] = [];
  const highs: number[] = [];
  for (let k = 1; k < runs.length; k++) {
    const cycle = rows.bar.subarray(runs[k - 1]!.startRow, runs[k]!.startRow + 1);
    lows.push(cycle.reduce((least, bar) => Math.min(least, bar), Number.POSITIVE_INFINITY) + rows.noiseBar);
    highs.push(cycle.reduce((most, bar) => Math.max(most, bar), Number.NEGATIVE_INFINITY) - rows.noiseBar);
  }
  return [median(lows), median(highs)];
}

/** Causes of a spell that coarse rows show only as a whole, by the band its readings lie in. */
export function rankChatter({ lowBar, highBar }: { lowBar: number; highBar: number }): RankedCauses {
  const band = highBar - lowBar;
  const narrow = band < CHATTER_NARROW_BAR;
  const doubtful = !narrow && band < DOUBTFUL_BANDS_BAR[1];
  const first: CyclingCause = narrow ? 'narrow_differential' : 'lost_precharge';
  return {
    causes: doubtful ? [first, 'narrow_differential'] : [first],
    reasons: [
      `While water is drawn the readings jump between ${lowBar.toFixed(2)} and ${highBar.toFixed(2)} bar from one to the ` +
        'next, also at small draws: the band is used up faster than the readings follow.',
    ],
    ranking: {
      rule:
        `Readings too coarse to follow each start: a band under ${CHATTER_NARROW_BAR} bar names a switch set too narrow, a ` +
        `wider one lost pre-charge, and both are named up to ${DOUBTFUL_BANDS_BAR[1]} bar.`,
      figures: bandFigure(band, CHATTER_NARROW_BAR),
    },
  };
}

/** What every episode's ranking begins with. */
interface Beginning {
  readonly reasons: readonly string[];
  readonly figures: readonly CauseFigure[];
}

const ON_DEMAND_RULE =
  `While water is drawn a band under ${NARROW_BAND_BAR} bar names a switch set too narrow, a wider one lost pre-charge. ` +
  `From ${DOUBTFUL_BANDS_BAR[0]} to ${DOUBTFUL_BANDS_BAR[1]} bar the two look alike and both are named: lost pre-charge first ` +
  `where the pressure swings by ${COLLAPSE_BAR_PER_S} bar/s or faster.`;
const VESSEL_RULE =
  ` A switch set too narrow is named beside them under a band of ${NARROW_BAND_BAR} bar; lost pre-charge at a wider one where ` +
  `the pump fills it within ${COLLAPSE_FILL_MS / 1000} s or starts in rapid succession while water is drawn.`;
const ORDERS = {
  usual: ' The band is emptied slowly enough for a leak or a valve: these come first.',
  narrow: ` It starts within ${COLLAPSE_PERIOD_MS / 1000} s, faster than a usual band could drip away: the switch comes first.`,
  vessel:
    ` It starts within ${EMPTY_VESSEL_PERIOD_MS / 1000} s, and while water is drawn the band is used up within ` +
    `${COLLAPSE_REST_MS / 1000} s or filled within ${COLLAPSE_FILL_MS / 1000} s: the vessel comes first.`,
} as const;

function onDemand(runs: readonly PumpRun[], band: number, { reasons, figures }: Beginning): RankedCauses {
  const period = median(runs.slice(1).map((run, k) => run.startMs - runs[k]!.startMs)) / 1000;
  const text = `A start every ${period.toFixed(0)} s while water is drawn.`;
  const swingS =
    median(
      runs.slice(1).map((run, k) => {
        const stopMs = runs[k]!.stopMs ?? run.startMs;
        return Math.min(stopMs - runs[k]!.startMs, run.startMs - stopMs);
      }),
    ) / 1000;
  const speed = band / Math.max(swingS, 1e-3);
  const doubtful = !Number.isFinite(band) || (band >= DOUBTFUL_BANDS_BAR[0] && band < DOUBTFUL_BANDS_BAR[1]);
  const narrowFirst = doubtful ? speed < COLLAPSE_BAR_PER_S : band < NARROW_BAND_BAR;
  const verdict = narrowFirst
    ? 'The band is narrow: the switch turns the pump on again after little water.'
    : 'The band is used up in seconds: the vessel holds hardly any water between cut-out and cut-in.';
  const first: CyclingCause = narrowFirst ? 'narrow_differential' : 'lost_precharge';
  const second: CyclingCause = narrowFirst ? 'lost_precharge' : 'narrow_differential';
  return {
    causes: doubtful ? [first, second] : [first],
    reasons: [...reasons, text, verdict],
    ranking: { rule: ON_DEMAND_RULE, figures: [...figures, ...swingFigure(speed, COLLAPSE_BAR_PER_S)] },
  };
}

function withoutDemand(
  rows: PumpRows,
  runs: readonly PumpRun[],
  plant: PlantFigures,
  band: number,
  { reasons, figures }: Beginning,
): RankedCauses {
  const fills = runs.flatMap((run) => (run.stopMs === undefined ? [] : run.stopMs - run.startMs));
  const fillMs = median(fills);
  const usualBand = band >= NARROW_BAND_BAR;
  const fillsAtOnce = fillMs <= COLLAPSE_FILL_MS && rows.intervalMs <= COLLAPSE_FILL_MS;
  const collapses = usualBand && plant.rapidOnDemand && (fillsAtOnce || plant.drawnRestMs <= COLLAPSE_REST_MS);
  const told = plant.leakOrValve(runs[0]!.startMs);
  const narrow: CyclingCause[] = band < NARROW_BAND_BAR ? ['narrow_differential'] : [];
  const vessel: CyclingCause[] = usualBand && (fillsAtOnce || plant.rapidOnDemand) ? ['lost_precharge'] : [];
  // Nothing that merely drips empties a band in seconds, however narrow.
  const periodMs = (runs[runs.length - 1]!.startMs - runs[0]!.startMs) / (runs.length - 1);
  const startsAtOnce = periodMs < COLLAPSE_PERIOD_MS;
  const fillText = Number.isFinite(fillMs) ? [`The pump needs ${(fillMs / 1000).toFixed(0)} s to fill the band.`] : [];
  const drawnText = collapses
    ? [
        `While water is drawn the band is used up in ${(plant.drawnRestMs / 1000).toFixed(0)} s: the vessel holds little.`,
      ]
    : [];
  const order = collapses && periodMs < EMPTY_VESSEL_PERIOD_MS ? 'vessel' : startsAtOnce ? 'narrow' : 'usual';
  const oddsText = `The odds are ${oddsWords(told.odds)}; from ${told.odds.needed} to 1 on only the likelier is named.`;
  return {
    causes:
      order === 'vessel'
        ? [...vessel, ...told.causes]
        : order === 'narrow'
          ? [...narrow, ...told.causes, ...vessel]
          : [...told.causes, ...narrow, ...vessel],
    reasons: [...reasons, ...fillText, ...drawnText, ...told.reasons, oddsText],
    ranking: {
      rule: ODDS_RULE + VESSEL_RULE + (order === 'narrow' && narrow.length === 0 ? '' : ORDERS[order]),
      figures: [
        ...figures,
        ...fillFigure(fillMs, COLLAPSE_FILL_MS),
        ...drawnRestFigure(plant.drawnRestMs, COLLAPSE_REST_MS),
        ...told.figures,
      ],
      odds: told.odds,
    },
  };
}
