import type { Channel } from '../../collector/model/channel.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import type { Series } from '../../collector/model/series.ts';
import { DEFAULT_THRESHOLDS, type Site } from '../../collector/model/site.ts';
import { BAR_PER_METRE_OF_WATER } from '../../collector/model/units.ts';
import { readConverted } from '../../collector/store/converted.ts';
import type { Extent, Store } from '../../collector/store/port.ts';
import type { AnalysisSite } from '../analysis/findings.ts';
import { calibrationInForce, DEFAULT_RANGE_BAR, settingInForce } from './calibration-in-force.ts';
import type { RecordedChannels } from './join-columns.ts';
import type { RecordStretch } from './record-stretch.ts';

/** Reading gives way to arriving samples at least this often. */
const LONGEST_TURN_MS = 10;

/** Which logger's channel stands for what in a stay's analysis. */
export interface RecordSources {
  readonly stretch: RecordStretch;
  readonly site: Site | undefined;
  readonly settings: readonly ChannelSetting[];
  readonly calibrations: readonly Calibration[];
  readonly flowLogger: string | undefined;
  readonly pumpLogger: string | undefined;
  readonly inletLogger: string | undefined;
  /** When that logger stood before this house's pump within the stay, ascending; and its settings. */
  readonly inletStays: readonly RecordStretch[];
  readonly inletSettings: readonly ChannelSetting[];
  /** Hours of the stay whose single samples were erased by age, ascending. */
  readonly rawErased: readonly { readonly fromMs: number; readonly toMs: number }[];
}

/** Samples of a minute at 10 Hz: a few more cost nothing. */
const LEAST_ROOM = 600;

/** What the analysis is told about the place and the sensor of a stay. */
export function analysisSite(sources: RecordSources): AnalysisSite {
  const { stretch, site, settings, calibrations } = sources;
  // What holds at the end was mostly set because it is better known; but a calibration counts only if it covers the whole.
  const lastMs = Math.min(stretch.toMs, Number.MAX_SAFE_INTEGER) - 1;
  const setting = settingInForce(settings, 'pressure', lastMs);
  const covering = calibrationInForce(calibrations, 'pressure', stretch.fromMs);
  const calibration = covering && calibrationInForce(calibrations, 'pressure', lastMs);
  return {
    timeZone: site?.timeZone ?? 'UTC',
    intervalS: setting?.intervalS,
    sensor: {
      position: stretch.position,
      rangeBar: setting?.rangeBar ?? DEFAULT_RANGE_BAR,
      accuracyBar: setting?.accuracyBar,
      calibrationStandardUncertaintyBar: calibration?.standardUncertainty,
      heightAboveSupplyPointM: stretch.heights.at(-1)?.heightM ?? 0,
    },
    ...(sources.rawErased.length > 0 ? { rawErased: sources.rawErased } : {}),
    ...(sources.inletStays.length > 0 ? { inletSensor: inletSensor(sources) } : {}),
    hasFlowMeter: sources.flowLogger !== undefined,
    thresholds: site?.thresholds ?? DEFAULT_THRESHOLDS,
    ...(site?.pump === undefined ? {} : { pump: site.pump }),
    ...(site?.fittedMs === undefined ? {} : { fittedMs: site.fittedMs }),
    ...(site?.outletReadings === undefined ? {} : { outletReadings: site.outletReadings }),
  };
}

/** What is known of the transducer before the pump; its calibration is applied on reading. */
function inletSensor({ inletStays, inletSettings }: RecordSources): NonNullable<AnalysisSite['inletSensor']> {
  const last = inletStays.at(-1)!;
  const lastMs = Math.min(last.toMs, Number.MAX_SAFE_INTEGER) - 1;
  return {
    rangeBar: settingInForce(inletSettings, 'pressure', lastMs)?.rangeBar,
    heightAboveSupplyPointM: last.heights.at(-1)?.heightM ?? 0,
  };
}

/**
 * Reads a stay's channels in canonical units, an hour at a time, giving way in between; those beside the pressure from
 * `besideFromMs` on. Samples of uncertain time are left out.
 */
export async function readRecord(
  store: Store,
  sources: RecordSources,
  besideFromMs = sources.stretch.fromMs,
): Promise<RecordedChannels> {
  const { stretch } = sources;
  const { fromMs, toMs } = stretch;
  const read = (loggerId: string, channel: Channel) => readUsable(store, loggerId, channel, besideFromMs, toMs);
  const pressure = await readUsable(store, stretch.loggerId, 'pressure', fromMs, toMs);
  levelHeights(pressure, stretch.heights);
  return {
    pressure,
    flow: sources.flowLogger === undefined ? undefined : await read(sources.flowLogger, 'flow'),
    pump: sources.pumpLogger === undefined ? undefined : await read(sources.pumpLogger, 'pump'),
    inlet: sources.inletLogger === undefined ? undefined : await readInlet(store, sources, besideFromMs),
  };
}

/** Pressure before the pump: only while its logger stood there, and as read at its last height. */
async function readInlet(store: Store, { stretch, inletStays }: RecordSources, besideFromMs: number): Promise<Series> {
  const parts: Series[] = [];
  for (const stay of inletStays) {
    const fromMs = Math.max(stay.fromMs, besideFromMs);
    const toMs = Math.min(stay.toMs, stretch.toMs);
    if (fromMs < toMs) parts.push(await readUsable(store, stay.loggerId, 'pressure', fromMs, toMs));
  }
  const inlet = parts.length === 1 ? parts[0]! : joined(parts);
  levelHeights(
    inlet,
    inletStays.flatMap(({ heights }) => heights),
  );
  return inlet;
}

function joined(parts: readonly Series[]): Series {
  const count = parts.reduce((sum, part) => sum + part.timeMs.length, 0);
  const whole = { timeMs: new Float64Array(count), value: new Float64Array(count) };
  let at = 0;
  for (const { timeMs, value } of parts) {
    whole.timeMs.set(timeMs, at);
    whole.value.set(value, at);
    at += timeMs.length;
  }
  return whole;
}

async function readUsable(store: Store, loggerId: string, channel: Channel, fromMs: number, toMs: number) {
  // What isn't written to takes no memory; growing would hold the columns twice.
  let timeMs = new Float64Array(roomFor(await store.extent(loggerId, channel), fromMs, toMs));
  let value = new Float64Array(timeMs.length);
  let count = 0;
  let turn = performance.now();
  for await (const part of readConverted(store, loggerId, channel, fromMs, toMs)) {
    if (count + part.timeMs.length > timeMs.length) {
      // Samples came in meanwhile.
      timeMs = withRoom(timeMs, count + part.timeMs.length);
      value = withRoom(value, timeMs.length);
    }
    timeMs.set(part.timeMs, count);
    value.set(part.value, count);
    count += part.timeMs.length;
    if (performance.now() - turn > LONGEST_TURN_MS) {
      await new Promise(setImmediate);
      turn = performance.now();
    }
  }
  const whole = count === timeMs.length;
  // A short span of a long log is copied out, so that no worker is handed room for all of it.
  const fitting = (column: Float64Array) =>
    whole ? column : 2 * count > column.length ? column.subarray(0, count) : column.slice(0, count);
  return { timeMs: fitting(timeMs), value: fitting(value) };
}

/** Samples to expect in a span if they were spread evenly over the record, and a quarter more. */
function roomFor(extent: Extent | undefined, fromMs: number, toMs: number): number {
  if (!extent) return 0;
  const { firstMs, lastMs, count } = extent;
  const overlapMs = Math.max(0, Math.min(toMs, lastMs) - Math.max(fromMs, firstMs));
  const share = lastMs > firstMs ? overlapMs / (lastMs - firstMs) : 1;
  return Math.min(count, Math.ceil(1.25 * share * count) + LEAST_ROOM);
}

function withRoom(column: Float64Array<ArrayBuffer>, length: number): Float64Array<ArrayBuffer> {
  const larger = new Float64Array(Math.ceil(1.25 * length));
  larger.set(column);
  return larger;
}

/** Makes readings of before a change of height comparable with those after it: a metre of water is 0.098 bar. */
function levelHeights(pressure: Series, heights: RecordStretch['heights']): void {
  const last = heights.at(-1);
  if (!last || heights.every((entry) => entry.heightM === last.heightM)) return;
  let current = 0;
  for (let index = 0; index < pressure.timeMs.length; index++) {
    while (current + 1 < heights.length && heights[current + 1]!.fromMs <= pressure.timeMs[index]!) current++;
    pressure.value[index]! += (heights[current]!.heightM - last.heightM) * BAR_PER_METRE_OF_WATER;
  }
}
