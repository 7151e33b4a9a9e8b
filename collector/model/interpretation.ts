import type { Channel } from './channel.ts';
import type { Calibration, ChannelSetting } from './logger.ts';
import { chain, type EpochMs, endPointMap, isRawUnit, type LinearMap, unitMap } from './units.ts';

/** From `fromMs` (until the next entry) values as sent become canonical ones by `map`; undefined: not known how. */
export interface Interpretation {
  readonly fromMs: EpochMs;
  readonly map: LinearMap | undefined;
  readonly setting: ChannelSetting | undefined;
  readonly calibration: Calibration | undefined;
}

/**
 * How values sent in `unit` are to be read over time: unit, the transducer's end points and the calibration, each
 * dated. Ascending by `fromMs`; the first entry starts at minus infinity, so every sample has one. A calibration's
 * `fromMs` and a setting's `fromMs` each open a new stretch.
 */
export function interpretations(
  channel: Channel,
  unit: string,
  settings: readonly ChannelSetting[],
  calibrations: readonly Calibration[],
): Interpretation[] {
  const ofChannel = settings.filter((entry) => entry.channel === channel).sort((a, b) => a.fromMs - b.fromMs);
  const calibrationsOf = calibrations.filter((entry) => entry.channel === channel).sort((a, b) => a.fromMs - b.fromMs);
  const starts = [
    ...new Set([
      Number.NEGATIVE_INFINITY,
      ...ofChannel.slice(1).map((s) => s.fromMs),
      ...calibrationsOf.map((c) => c.fromMs),
    ]),
  ];
  starts.sort((a, b) => a - b);
  return starts.map((fromMs) => {
    // The first setting also holds for samples older than itself: a buffer uploaded after the logger was added.
    const setting = ofChannel.filter((entry) => entry.fromMs <= fromMs).at(-1) ?? ofChannel[0];
    const calibration = calibrationsOf.filter((entry) => entry.fromMs <= fromMs).at(-1);
    const base =
      channel === 'pressure' && isRawUnit(unit)
        ? setting?.endPoints && endPointMap(setting.endPoints)
        : unitMap(channel, unit);
    const map = base && calibration ? chain(base, { gain: calibration.gain, offset: calibration.offset }) : base;
    return { fromMs, map: map || undefined, setting, calibration };
  });
}
