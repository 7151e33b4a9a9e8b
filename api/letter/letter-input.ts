import type { Position } from '../../collector/model/channel.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import type { SummarySeries } from '../../collector/model/series.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { FindingsDocument } from '../analysis/findings.ts';

/** Everything a letter is made from. Plain data, so that it can be handed to a worker. */
export interface LetterInput {
  readonly siteName: string;
  /** True for the demo's houses: the letter then says on every page that it is an example. */
  readonly invented: boolean;
  readonly timeZone: string;
  /** The span asked for; the record may cover less. */
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  readonly writtenMs: EpochMs;
  readonly loggerId: string;
  readonly position: Position;
  readonly heightAboveSupplyPointM: number;
  /** Those in force during the span, ascending. */
  readonly channelSettings: readonly ChannelSetting[];
  readonly calibrations: readonly Calibration[];
  readonly findings: FindingsDocument;
  /** Extremes of the readings in bar, for the pale band behind the standing pressure. */
  readonly envelope: SummarySeries | undefined;
  readonly programVersion: string;
}
