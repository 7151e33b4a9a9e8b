import { type Bar, STANDARD_ATMOSPHERE_BAR } from '../../../collector/model/units.ts';
import { interval95 } from '../evidence/wording.ts';
import type { AnalysisSite, Evidence, PumpLitres } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import { idleRestsOf } from './cycling-causes.ts';
import { outflowIndex } from './outflow.ts';
import type { PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** Reading a bucket's scale: common practice, no source. */
const BUCKET_ERROR_SHARE = 0.05;
/** A gauge on a drained vessel: common practice, no source. */
const PRE_CHARGE_ERROR_BAR = 0.1;
/** A rest that empties less of the band than this hides the litres in the readings' noise. */
const LEAST_BAND_SHARE = 0.4;
/** Slower draws than this mix with what leaks away meanwhile. */
const LEAST_DRAW_LPM = 1.5;
const FEWEST_RESTS = 5;
/** Of normal values, error of the median over standard error of the mean; times two for 95 %. */
const MEDIAN_95 = 2 * 1.2533;

interface Estimate {
  readonly value: number;
  readonly interval: readonly [number, number];
  readonly count: number;
}

/**
 * Litres of the vessel and of what leaks. By Boyle's law the gas fills P0·V/P, so litres gone are K·(1/P − 1/P'), absolute
 * pressures: K comes from a bucket's reading, from a flow channel over rests that drew the vessel down, or from the
 * vessel's own figures (K = P0·V). What is lost at rest and what the pump fills follow from K. Undefined without any.
 */
export function pumpLitres(
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: { readonly timeMs: Float64Array; readonly lpm: Float64Array } | undefined,
  site: AnalysisSite,
): PumpLitres | undefined {
  const band = usualBand(runs);
  if (!(band.bandIndex > 0)) return undefined;
  const { bandIndex } = band;
  const found = usableLitres(rows, runs, flow, site, band);
  if (!found) return undefined;
  const { usable, from } = found;
  const litresPerIndex = usable.value / bandIndex;
  const relative = (usable.interval[1] - usable.interval[0]) / 2 / usable.value;
  const loss = lossAtRest(rows, runs, litresPerIndex, relative);
  const fills = fillFlows(rows, runs, litresPerIndex);
  const fillLpm = fills.length >= FEWEST_RESTS ? median(fills) + (loss?.value ?? 0) : undefined;
  return {
    usable: { litres: usable.value, interval: usable.interval, from, runs: usable.count },
    ...(loss ? { loss: { lpm: loss.value, interval: loss.interval, rests: loss.count } } : {}),
    ...(fillLpm === undefined ? {} : { fillLpm, mostStartsPerHour: (15 * fillLpm) / usable.value }),
  };
}

/** The usual band in the outflow index; NaN where no run shows both of its ends. */
export function usableIndex(runs: readonly PumpRun[]): number {
  return usualBand(runs).bandIndex;
}

function usualBand(runs: readonly PumpRun[]): Band {
  const cutIn = median(runs.flatMap((run) => run.cutInBar ?? []));
  const cutOut = median(runs.flatMap((run) => run.cutOutBar ?? []));
  return { cutIn, cutOut, bandIndex: outflowIndex(cutIn) - outflowIndex(cutOut) };
}

interface Band {
  readonly cutIn: Bar;
  readonly cutOut: Bar;
  readonly bandIndex: number;
}

function usableLitres(
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: { readonly timeMs: Float64Array; readonly lpm: Float64Array } | undefined,
  { pump }: AnalysisSite,
  band: Band,
): { usable: Estimate; from: 'bucket' | 'flow_channel' | 'boyle' } | undefined {
  if (pump?.usableLitres !== undefined) {
    const value = pump.usableLitres;
    const error = BUCKET_ERROR_SHARE * value;
    return { usable: { value, interval: [value - error, value + error], count: 1 }, from: 'bucket' };
  }
  const metered = flow ? byFlowChannel(rows, runs, flow, band) : undefined;
  if (metered) return { usable: metered, from: 'flow_channel' };
  if (pump?.vessel === undefined) return undefined;
  const { volumeL, preChargeBar } = pump.vessel;
  const at = (gauge: Bar): number => volumeL * (gauge + STANDARD_ATMOSPHERE_BAR) * bandAbove(gauge, band);
  const ends = [at(preChargeBar - PRE_CHARGE_ERROR_BAR), at(preChargeBar + PRE_CHARGE_ERROR_BAR)].sort((a, b) => a - b);
  const value = at(preChargeBar);
  return value > 0 ? { usable: { value, interval: [ends[0]!, ends[1]!], count: 0 }, from: 'boyle' } : undefined;
}

/** Below its pre-charge a vessel is empty: a cut-in under it counts as the pre-charge. */
function bandAbove(preChargeBar: Bar, { cutIn, cutOut }: Band): number {
  return Math.max(0, outflowIndex(Math.max(cutIn, preChargeBar)) - outflowIndex(cutOut));
}

/** The usable volume from litres metered while the pump rested, scaled from the part of the band that they emptied. */
function byFlowChannel(
  rows: PumpRows,
  runs: readonly PumpRun[],
  flow: { readonly timeMs: Float64Array; readonly lpm: Float64Array },
  { bandIndex }: Band,
): Estimate | undefined {
  const estimates: number[] = [];
  let i = 0;
  for (let k = 1; k < runs.length; k++) {
    const { stopRow: fromRow, stopMs } = runs[k - 1]!;
    const run = runs[k]!;
    if (fromRow === undefined || stopMs === undefined || run.startRow <= fromRow) continue;
    const gone = outflowIndex(rows.calmBar[run.startRow]!) - outflowIndex(rows.calmBar[fromRow]!);
    if (gone < LEAST_BAND_SHARE * bandIndex) continue;
    const fromMs = rows.timeMs[fromRow]!;
    const toMs = rows.timeMs[run.startRow]!;
    while (i < flow.timeMs.length && flow.timeMs[i]! <= fromMs) i++;
    let litres = 0;
    let known = true;
    for (let j = i; j < flow.timeMs.length && flow.timeMs[j]! <= toMs; j++) {
      const lpm = flow.lpm[j]!;
      if (Number.isNaN(lpm)) known = false;
      else litres += (lpm * Math.min(rows.intervalMs, flow.timeMs[j]! - fromMs)) / 60_000;
    }
    if (known && litres >= (LEAST_DRAW_LPM * (toMs - fromMs)) / 60_000) estimates.push((litres * bandIndex) / gone);
  }
  return estimateOf(estimates, 0);
}

/** Litres a minute that leave at rest with nobody drawing. */
function lossAtRest(
  rows: PumpRows,
  runs: readonly PumpRun[],
  litresPerIndex: number,
  relativeError: number,
): Estimate | undefined {
  const losses = idleRestsOf(runs).flatMap(({ fromRow, toRow }) => {
    const minutes = (rows.timeMs[toRow]! - rows.timeMs[fromRow]!) / 60_000;
    const gone = outflowIndex(rows.calmBar[toRow]!) - outflowIndex(rows.calmBar[fromRow]!);
    return gone > 0 && minutes > 0 ? [(litresPerIndex * gone) / minutes] : [];
  });
  return estimateOf(losses, relativeError);
}

function fillFlows(rows: PumpRows, runs: readonly PumpRun[], litresPerIndex: number): number[] {
  return runs.flatMap((run) => {
    if (run.onDemand !== false || run.stopRow === undefined) return [];
    const minutes = (rows.timeMs[run.stopRow]! - rows.timeMs[run.startRow]!) / 60_000;
    const filled = outflowIndex(rows.calmBar[run.startRow]!) - outflowIndex(rows.calmBar[run.stopRow]!);
    return minutes > 0 && filled > 0 ? [(litresPerIndex * filled) / minutes] : [];
  });
}

/** Median with its 95 % interval from the scatter of the values and, beside it, a relative error that all share. */
function estimateOf(values: readonly number[], sharedRelative: number): Estimate | undefined {
  if (values.length < FEWEST_RESTS) return undefined;
  const value = median(values);
  const scatter = MAD_TO_SIGMA * median(values.map((one) => Math.abs(one - value)));
  const error = Math.hypot((MEDIAN_95 * scatter) / Math.sqrt(values.length), sharedRelative * value);
  return { value, interval: [Math.max(0, value - error), value + error], count: values.length };
}

const twoDigits = (value: number) => value.toPrecision(2);

const FROM_WORDS = {
  bucket: 'the bucket reading',
  flow_channel: 'the flow meter',
  boyle: 'the vessel’s size and pre-charge by Boyle’s law, if they still hold',
} as const;

/** What the litres say, in sentences. */
export function litresStatements(litres: PumpLitres | undefined): Evidence['statements'][number][] {
  if (!litres?.usable) return [];
  const { usable, loss, mostStartsPerHour } = litres;
  const most =
    mostStartsPerHour === undefined
      ? ''
      : ` The worst draw makes the pump start about ${mostStartsPerHour.toPrecision(2)} times an hour.`;
  const statements: Evidence['statements'][number][] = [
    {
      text:
        `Between cut-out and cut-in the vessel gives ${usable.litres.toPrecision(2)} l${interval95(usable.interval, twoDigits, 'l')}, by ` +
        `${FROM_WORDS[usable.from]}.${most}`,
      certainty: usable.from === 'boyle' ? 'possible' : 'certain',
    },
  ];
  if (loss) {
    statements.push({
      text:
        `With nobody drawing ${loss.lpm.toPrecision(2)} l/min are lost${interval95(loss.interval, twoDigits)}, some ` +
        `${Math.round(loss.lpm * 1440)} l a day.`,
      certainty: usable.from === 'boyle' ? 'possible' : 'certain',
    });
  }
  return statements;
}
