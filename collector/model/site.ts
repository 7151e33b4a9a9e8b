import type { OutletReading, PumpSetting } from './pump-setting.ts';
import type { Bar, EpochMs } from './units.ts';

/** Limits that a site judges by. Each default has its reason in `DEFAULT_THRESHOLDS`. */
export interface Thresholds {
  readonly lowSupplyBar: Bar;
  readonly weakInletBar: Bar;
  readonly sagMinDepthBar: Bar;
}

export const DEFAULT_THRESHOLDS: Thresholds = {
  /** 7 m head is 0.6865 bar, the compensation standard of England and Wales (SI 2008/594); rounded up, a setting of the site. */
  lowSupplyBar: 0.7,
  /** Below 0.3 bar gauge at a pump's inlet dirt may be drawn in at leaks: common practice, no source. */
  weakInletBar: 0.3,
  /** A fall under 0.3 bar goes unnoticed at most outlets: common practice, no source. */
  sagMinDepthBar: 0.3,
};

export interface Site {
  readonly id: string;
  readonly name: string;
  /** IANA zone in which this site's days and hours are judged. */
  readonly timeZone: string;
  readonly createdMs: EpochMs;
  readonly thresholds: Thresholds;
  /**
   * Days for which single samples recorded here are kept; older ones are erased, their minutes stay. Undefined: for good.
   */
  readonly keepRawDays?: number | undefined;
  readonly pump?: PumpSetting | undefined;
  /** When something was fitted to cure the pressure; readings of before and after it are compared. */
  readonly fittedMs?: EpochMs | undefined;
  readonly outletReadings?: readonly OutletReading[] | undefined;
  /** Set while hidden; a hidden site is erased 30 days later. */
  readonly hiddenMs?: EpochMs | undefined;
  /** True for the demo's invented properties. */
  readonly invented: boolean;
}
