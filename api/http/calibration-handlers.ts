import type { Clock } from '../../collector/model/clock.ts';
import { formatRfc3339, parseRfc3339 } from '../../collector/model/instant.ts';
import { interpretations } from '../../collector/model/interpretation.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import { applyMap, type Bar, type EpochMs } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';
import type { CalibrationResource, CheckedBodyOf } from '../contract/payloads.ts';
import {
  CALIBRATION_ENDED,
  calibrationInForce,
  sensorStandardUncertaintyBar,
  settingInForce,
} from '../work/calibration-in-force.ts';
import { compareWithGauge, type GaugePoint } from '../work/gauge-comparison.ts';
import { recordStretches } from '../work/record-stretch.ts';
import type { Handlers } from './handlers.ts';
import { knownLogger, wrongPlace } from './known-resources.ts';

/** The reading that a gauge is compared with is the mean over this long: a tap elsewhere must not decide it. */
const COMPARED_OVER_MS = 60_000;

export function calibrationHandlers(needs: {
  store: Store;
  clock: Clock;
  changed: (what: 'logger', id: string) => void;
}): Pick<Handlers, 'listCalibrations' | 'addCalibration'> {
  const { store, clock, changed } = needs;
  return {
    async listCalibrations({ params }) {
      const { id } = await knownLogger(store, params.id);
      return (await store.calibrations(id)).map(calibrationResource);
    },
    async addCalibration({ params, body }) {
      const { id } = await knownLogger(store, params.id);
      const nowMs = clock.nowMs();
      const settings = await store.channelSettings(id);
      const calibrations = await store.calibrations(id);
      const stay = recordStretches(await store.placements(id)).findLast((stretch) => stretch.fromMs <= nowMs);
      const stayFromMs = stay?.fromMs ?? 0;
      const inForce = calibrationInForce(calibrations, 'pressure', nowMs);
      // The first comparison in a house tells of the sensor as it has sat there from the beginning; a later one of a drift.
      const usualFromMs = inForce && inForce.fromMs >= stayFromMs ? nowMs : stayFromMs;
      const fromMs = body.from === undefined ? usualFromMs : parseRfc3339(body.from)!;
      if (fromMs < stayFromMs)
        throw wrongPlace(
          'body.from',
          `must not be before ${formatRfc3339(stayFromMs)}, when the logger came to its present place`,
        );
      const points = await Promise.all(
        body.points.map((point, index) => gaugePoint(store, id, { settings, inForce }, point, index)),
      );
      const line = compareWithGauge(points, {
        gainInForce: inForce?.gain ?? 1,
        gaugeAccuracyBar: body.gaugeAccuracyBar,
        sensorStandardUncertaintyBar: sensorStandardUncertaintyBar(
          settingInForce(settings, 'pressure', nowMs),
          undefined,
        ),
      });
      const calibration: Calibration = {
        loggerId: id,
        channel: 'pressure',
        fromMs,
        ...line,
        note: body.note === CALIBRATION_ENDED ? '' : body.note,
      };
      await store.addCalibration(calibration);
      changed('logger', id);
      return calibrationResource(calibration);
    },
  };
}

/** The sensor's own reading at a comparison: from what the program showed, or from the record up to the time given. */
async function gaugePoint(
  store: Store,
  loggerId: string,
  known: { settings: readonly ChannelSetting[]; inForce: Calibration | undefined },
  point: CheckedBodyOf<'addCalibration'>['points'][number],
  index: number,
): Promise<GaugePoint> {
  const { gaugeBar } = point;
  if (point.readBar !== undefined) {
    const { gain, offset } = known.inForce ?? { gain: 1, offset: 0 };
    return { readBar: (point.readBar - offset) / gain, gaugeBar };
  }
  const atMs = point.at === undefined ? undefined : parseRfc3339(point.at);
  if (atMs === undefined) throw wrongPlace(`body.points.${index}`, 'give readBar, or the time `at` of the comparison');
  const readBar = await meanWithoutCalibration(store, loggerId, known.settings, atMs);
  if (readBar === undefined)
    throw wrongPlace(
      `body.points.${index}.at`,
      `no readable pressure is stored in the minute before ${formatRfc3339(atMs)}; give readBar`,
    );
  return { readBar, gaugeBar };
}

async function meanWithoutCalibration(
  store: Store,
  loggerId: string,
  settings: readonly ChannelSetting[],
  atMs: EpochMs,
): Promise<Bar | undefined> {
  let sum = 0;
  let count = 0;
  for await (const run of store.runs(loggerId, 'pressure', atMs - COMPARED_OVER_MS, atMs + 1)) {
    const map = interpretations('pressure', run.unit, settings, [])
      .filter((stretch) => stretch.fromMs <= atMs)
      .at(-1)?.map;
    if (!map) continue;
    for (const value of run.value) sum += applyMap(map, value);
    count += run.value.length;
  }
  return count === 0 ? undefined : sum / count;
}

function calibrationResource(calibration: Calibration): CalibrationResource {
  const { channel, fromMs, gain, offset, standardUncertainty, note } = calibration;
  return { channel, from: formatRfc3339(fromMs), gain, offset, standardUncertainty, note };
}
