import type { Channel } from '../../collector/model/channel.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import type { Series } from '../../collector/model/series.ts';
import { DEFAULT_THRESHOLDS, type Site } from '../../collector/model/site.ts';
import { BAR_PER_METRE_OF_WATER } from '../../collector/model/units.ts';
import { readConverted } from '../../collector/store/converted.ts';
import type { Store } from '../../collector/store/port.ts';
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
  /** Hours of the stay whose single samples were erased by age, ascending. */
  readonly rawErased: readonly { readonly fromMs: number; readonly toMs: number }[];
}

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
    hasFlowMeter: sources.flowLogger !== undefined,
    thresholds: site?.thresholds ?? DEFAULT_THRESHOLDS,
    ...(site?.pump === undefined ? {} : { pump: site.pump }),
    ...(site?.fittedMs === undefined ? {} : { fittedMs: site.fittedMs }),
    ...(site?.outletReadings === undefined ? {} : { outletReadings: site.outletReadings }),
  };
}

/** Reads a stay's channels in canonical units, an hour at a time, giving way in between. Samples of uncertain time are left out. */
export async function readRecord(store: Store, sources: RecordSources): Promise<RecordedChannels> {
  const { stretch } = sources;
  const { fromMs, toMs } = stretch;
  const read = (loggerId: string, channel: Channel) => readUsable(store, loggerId, channel, fromMs, toMs);
  const pressure = await read(stretch.loggerId, 'pressure');
  levelHeights(pressure, stretch.heights);
  return {
    pressure,
    flow: sources.flowLogger === undefined ? undefined : await read(sources.flowLogger, 'flow'),
    pump: sources.pumpLogger === undefined ? undefined : await read(sources.pumpLogger, 'pump'),
    inlet: sources.inletLogger === undefined ? undefined : await read(sources.inletLogger, 'pressure'),
  };
}

async function readUsable(store: Store, loggerId: string, channel: Channel, fromMs: number, toMs: number) {
  const times: Float64Array[] = [];
  const values: Float64Array[] = [];
  let turn = performance.now();
  for await (const part of readConverted(store, loggerId, channel, fromMs, toMs)) {
    times.push(part.timeMs);
    values.push(part.value);
    if (performance.now() - turn > LONGEST_TURN_MS) {
      await new Promise(setImmediate);
      turn = performance.now();
    }
  }
  return { timeMs: concatenated(times), value: concatenated(values) };
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

function concatenated(parts: readonly Float64Array[]): Float64Array {
  const whole = new Float64Array(parts.reduce((length, part) => length + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
