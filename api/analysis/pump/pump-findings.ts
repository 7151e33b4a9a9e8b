import type { AnalysisSite, PumpStart } from '../findings.ts';
import {
  findingsOf,
  habitsOf,
  meterOf,
  type PumpChunk,
  type PumpParameters,
  type PumpResult,
} from './findings-of-runs.ts';
import { meterHabits } from './metered-runs.ts';
import { pumpGrain } from './pump-grain.ts';
import { nothingKept, type PumpMemory } from './pump-memory.ts';
import { medianStepMs, pumpRows } from './pump-rows.ts';
import { quietNoiseBar } from './quiet-noise.ts';
import { beginRunWatch, endRunWatch, type RunWatch, runsAsOfNow, type SeenRuns, watchRuns } from './run-watch.ts';
import { toPumpStart } from './start-figures.ts';
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
  readonly seen: RunWatch;
  readonly chunks: PumpChunk[];
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
  const { timeMs, pressureBar, flowLpm, site, intervalS, quantumBar } = input;
  const noiseBar = quietNoiseBar(pressureBar, input.noiseBar, quantumBar);
  const intervalMs = intervalS > 0 ? intervalS * 1000 : medianStepMs(timeMs);
  const grain = pumpGrain(intervalMs, noiseBar, quantumBar);
  const levels =
    site.sensor.position === 'pump_outlet'
      ? switchLevels(pumpRows(timeMs, pressureBar, intervalS, noiseBar, quantumBar))
      : [];
  // A meter that is known to see the household's draws only says nothing of the pump.
  const metered = flowLpm && site.meters !== 'household';
  return { site, grain, levels, ...(metered ? { meterHabits: meterHabits(timeMs, flowLpm, intervalMs) } : {}) };
}

/** Begins to watch; `rowsExpected` only saves copying. */
export function beginPump(parameters: PumpParameters, rowsExpected = 0): PumpWatch {
  return { parameters, seen: beginRunWatch(parameters.grain, parameters.levels, rowsExpected), chunks: [], told: 0 };
}

/**
 * Takes in readings and gives the starts that closed by them: the pump was seen to stop. Their demand marks wait for the
 * end, since a mark compares a rest with those before and after it.
 */
export function stepPump(watch: PumpWatch, chunk: PumpChunk): PumpStart[] {
  watch.chunks.push(chunk);
  watchRuns(watch.seen, chunk.timeMs, chunk.pressureBar);
  const { search } = watch.seen;
  const closed = search.running ? search.runs.length - 1 : search.runs.length;
  const news = search.runs.slice(watch.told, closed).map(toPumpStart);
  watch.told = Math.max(watch.told, closed);
  return news;
}

/** All findings over what was taken in. The watch is spent. */
export function endPump(watch: PumpWatch): PumpResult {
  const { rows, runs } = endRunWatch(watch.seen);
  return findingsOf(wholeOf(watch.chunks), rows, runs, watch.parameters);
}

/** A watch over the rows of a log that somebody else keeps, which takes in those that stay as they are. */
export interface GrowingPump {
  readonly parameters: PumpParameters;
  readonly seen: RunWatch;
  /** Rows taken in. */
  taken: number;
  readonly memory: PumpMemory;
}

export function beginGrowingPump(parameters: PumpParameters, rowsExpected = 0): GrowingPump {
  const seen = beginRunWatch(parameters.grain, parameters.levels, rowsExpected);
  return { parameters, seen, taken: 0, memory: nothingKept() };
}

/** Takes in the rows up to `settled`, which no later one changes. */
export function growPump(pump: GrowingPump, log: PumpChunk, settled: number): void {
  const { taken } = pump;
  if (settled <= taken) return;
  watchRuns(pump.seen, log.timeMs.subarray(taken, settled), log.pressureBar.subarray(taken, settled));
  pump.taken = settled;
}

/**
 * All findings of a log so far, as `findPump` would find them under the same parameters; the watch goes on. What was told
 * before of long ago is told again without working it out.
 */
export function pumpAsOfNow(pump: GrowingPump, log: PumpChunk): PumpResult {
  const settledRows = pump.seen.rows.settled;
  return asOfNow(pump, log, ({ rows, runs }) => {
    pump.memory.settledRows = settledRows;
    return findingsOf(log, rows, runs, pump.parameters, pump.memory);
  });
}

/** The parameters with how the plant rests and where a flow meter sits, from all of the log so far. */
export function withHabits(pump: GrowingPump, log: PumpChunk): PumpParameters {
  return asOfNow(pump, log, ({ rows, runs }) => {
    const parameters = { ...pump.parameters, meter: meterOf(log, rows, runs, pump.parameters) };
    return { ...parameters, habits: habitsOf(log, rows, runs, parameters) };
  });
}

function asOfNow<T>({ seen, taken }: GrowingPump, log: PumpChunk, use: (seen: SeenRuns) => T): T {
  return runsAsOfNow(seen, log.timeMs.subarray(taken), log.pressureBar.subarray(taken), use);
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
