import type { AnalysisSite, PumpStart } from '../findings.ts';
import { findingsOf, type PumpChunk, type PumpParameters, type PumpResult, toPumpStart } from './findings-of-runs.ts';
import { appendRow, beginRows, comesAfterGap, type GrowingRows, rowsSoFar } from './growing-rows.ts';
import { beginRuns, endStretch, type RunSearch, runsAt } from './outlet-runs.ts';
import { pumpGrain } from './pump-grain.ts';
import { medianStepMs, pumpRows } from './pump-rows.ts';
import { quietNoiseBar } from './quiet-noise.ts';
import { switchLevels } from './switch-levels.ts';

export type { PumpChunk, PumpParameters, PumpResult } from './findings-of-runs.ts';

export interface PumpInput extends PumpChunk {
  readonly site: AnalysisSite;
  readonly intervalS: number;
  /** Standard deviation of the sensor's noise. */
  readonly noiseBar: number;
  /** The converter's step; nought where none shows. */
  readonly quantumBar: number;
}

/** Where the watch stands. Only `stepPump` and `endPump` look inside. */
export interface PumpWatch {
  readonly parameters: PumpParameters;
  readonly rows: GrowingRows;
  readonly search: RunSearch;
  readonly chunks: PumpChunk[];
  /** Rows before this one have been searched. */
  searched: number;
  /** Closed runs that were told of before. */
  told: number;
}

/**
 * What a pump does: starts, demand marks, cycling with its causes, a weak inlet, a booster fitted or removed. Pure;
 * linear time but for sorting a log's turning points. It is the watch over the whole log in one chunk.
 */
export function findPump(input: PumpInput): PumpResult {
  const watch = beginPump(pumpParameters(input), input.timeMs.length);
  stepPump(watch, input);
  return endPump(watch);
}

/** Noise, rate and the switch's levels, from a whole log. A live watch takes those of the last full analysis. */
export function pumpParameters(input: PumpInput): PumpParameters {
  const { timeMs, pressureBar, site, intervalS, quantumBar } = input;
  const noiseBar = quietNoiseBar(pressureBar, input.noiseBar, quantumBar);
  const intervalMs = intervalS > 0 ? intervalS * 1000 : medianStepMs(timeMs);
  const grain = pumpGrain(intervalMs, noiseBar, quantumBar);
  const levels =
    site.sensor.position === 'pump_outlet'
      ? switchLevels(pumpRows(timeMs, pressureBar, intervalS, noiseBar, quantumBar))
      : [];
  return { site, grain, levels };
}

/** Begins to watch; `rowsExpected` only saves copying. */
export function beginPump(parameters: PumpParameters, rowsExpected = 0): PumpWatch {
  const { grain, levels } = parameters;
  const rows = beginRows(grain, rowsExpected);
  return { parameters, rows, search: beginRuns(grain, levels), chunks: [], searched: 0, told: 0 };
}

/**
 * Takes in readings and gives the starts that closed by them: the pump was seen to stop. Their demand marks wait for the
 * end, since a mark compares a rest with those before and after it.
 */
export function stepPump(watch: PumpWatch, chunk: PumpChunk): PumpStart[] {
  watch.chunks.push(chunk);
  const { rows, search } = watch;
  for (let i = 0; i < chunk.timeMs.length; i++) {
    const bar = chunk.pressureBar[i]!;
    if (Number.isNaN(bar)) continue;
    if (comesAfterGap(rows, chunk.timeMs[i]!)) closeStretch(watch);
    appendRow(rows, chunk.timeMs[i]!, bar);
    for (; watch.searched < rows.settled; watch.searched++) runsAt(search, rows, watch.searched);
  }
  const closed = search.running ? search.runs.length - 1 : search.runs.length;
  const news = search.runs.slice(watch.told, closed).map(toPumpStart);
  watch.told = Math.max(watch.told, closed);
  return news;
}

/** The last rows of a stretch settle with its end. */
function closeStretch(watch: PumpWatch): void {
  const { rows, search } = watch;
  for (; watch.searched < rows.count; watch.searched++) runsAt(search, rows, watch.searched);
  endStretch(search, rows, rows.count);
}

/** All findings over what was taken in. The watch is spent. */
export function endPump(watch: PumpWatch): PumpResult {
  closeStretch(watch);
  const { parameters, search } = watch;
  return findingsOf(wholeOf(watch.chunks), rowsSoFar(watch.rows), search.runs, parameters);
}

function wholeOf(chunks: readonly PumpChunk[]): PumpChunk {
  if (chunks.length === 1) return chunks[0]!;
  const joined = (of: (chunk: PumpChunk) => Float64Array | undefined): Float64Array | undefined => {
    const parts = chunks.map(of);
    if (parts.every((part) => part === undefined)) return undefined;
    const whole = new Float64Array(chunks.reduce((length, { timeMs }) => length + timeMs.length, 0)).fill(Number.NaN);
    let at = 0;
    parts.forEach((part, k) => {
      if (part) whole.set(part, at);
      at += chunks[k]!.timeMs.length;
    });
    return whole;
  };
  return {
    timeMs: joined(({ timeMs }) => timeMs) ?? new Float64Array(),
    pressureBar: joined(({ pressureBar }) => pressureBar) ?? new Float64Array(),
    flowLpm: joined(({ flowLpm }) => flowLpm),
    pumpOn: joined(({ pumpOn }) => pumpOn),
    inletBar: joined(({ inletBar }) => inletBar),
  };
}
