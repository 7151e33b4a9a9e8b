import type { Bar, EpochMs, LitresPerMinute } from './units.ts';

/** What the owner knows of a site's pump; all of it may be missing. */
export interface PumpSetting {
  /** Local hours [from, to) in which it may start; from 22 to 6 runs over midnight. */
  readonly allowedHours?: readonly [number, number] | undefined;
  /** The motor's limit. None is assumed: NEMA MG 10 names 8 to 30 an hour, makers of small sets 20 to 60. */
  readonly mostStartsPerHour?: number | undefined;
  /** Where that limit stands: the nameplate, the maker's sheet. */
  readonly startsLimitSource?: string | undefined;
  /** Litres caught in a bucket between cut-out and cut-in, with the pump switched off: the vessel's usable volume. */
  readonly usableLitres?: number | undefined;
  /** The vessel as its plate and a gauge on its drained water side say. */
  readonly vessel?: { readonly volumeL: number; readonly preChargeBar: Bar } | undefined;
  /** Points of the maker's curve, ascending in flow: what the pump adds. */
  readonly curve?: readonly PumpCurvePoint[] | undefined;
}

export interface PumpCurvePoint {
  readonly flowLpm: LitresPerMinute;
  readonly headBar: Bar;
}

/** An outlet as read on a visit: what runs from it and the pressure just before it, either or both. */
export interface OutletReading {
  readonly outlet: string;
  readonly atMs: EpochMs;
  readonly flowLpm?: LitresPerMinute | undefined;
  readonly pressureBar?: Bar | undefined;
}
