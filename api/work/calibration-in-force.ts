import type { Channel } from '../../collector/model/channel.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import type { Bar, EpochMs } from '../../collector/model/units.ts';

/**
 * Note of the entry that ends a calibration when a logger moves to another house: its line is the sensor's own again.
 * A calibration belongs to the sensor where it sat, with its height, its fitting and its supply of power.
 */
export const CALIBRATION_ENDED = 'ended: the logger was moved';

/** Range taken where none is set: the commonest transducer of this trade reads 0 to 10 bar (common practice, no source). */
export const DEFAULT_RANGE_BAR = [0, 10] as const;
/** Limits of error ±a taken where none are set, as a share of the range; the findings say so. */
export const DEFAULT_ACCURACY_SHARE = 0.01;

/** The calibration that holds at a moment; undefined where none was made, or the last was ended by a move. */
export function calibrationInForce(
  calibrations: readonly Calibration[],
  channel: Channel,
  atMs: EpochMs,
): Calibration | undefined {
  const last = calibrations
    .filter((entry) => entry.channel === channel && entry.fromMs <= atMs)
    .sort((a, b) => a.fromMs - b.fromMs)
    .at(-1);
  return last?.note === CALIBRATION_ENDED ? undefined : last;
}

/** The setting that holds at a moment; the first one also for what is older than itself. */
export function settingInForce(
  settings: readonly ChannelSetting[],
  channel: Channel,
  atMs: EpochMs,
): ChannelSetting | undefined {
  const sorted = settings.filter((entry) => entry.channel === channel).sort((a, b) => a.fromMs - b.fromMs);
  return sorted.filter((entry) => entry.fromMs <= atMs).at(-1) ?? sorted[0];
}

/** Standard uncertainty in bar of a pressure reading from the sensor alone (JCGM 100, 4.3.7: a/√3 of a rectangular one). */
export function sensorStandardUncertaintyBar(
  setting: ChannelSetting | undefined,
  calibration: Calibration | undefined,
): Bar {
  if (calibration) return calibration.standardUncertainty;
  const [low, high] = setting?.rangeBar ?? DEFAULT_RANGE_BAR;
  return (setting?.accuracyBar ?? DEFAULT_ACCURACY_SHARE * (high - low)) / Math.sqrt(3);
}
