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
  /** What the logger's own clock did during the span. */
  readonly clock?: LoggerClock | undefined;
  readonly findings: FindingsDocument;
  /** Extremes of the readings in bar, for the pale band behind the standing pressure. */
  readonly envelope: SummarySeries | undefined;
  readonly programVersion: string;
}

export interface LoggerClock {
  /** Its clock less ours before, between and after the jumps; undefined where it can't be told. Uncertainty: k = 2. */
  readonly estimates: readonly ({ readonly offsetMs: number; readonly uncertaintyMs: number } | undefined)[];
  readonly jumps: readonly { readonly atMs: EpochMs; readonly byMs: number }[];
}
