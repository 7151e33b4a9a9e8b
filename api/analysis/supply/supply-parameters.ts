import type { RateTuning } from './rate-tuning.ts';
import type { StreetVariogram } from './street-variogram.ts';
import type { SupplyCurve } from './supply-curve.ts';
import type { TapLaw } from './tap-law.ts';

/**
 * What the account of a log asks of the whole of it, estimated once. Rows that arrive are accounted for under the
 * parameters of the last full analysis.
 */
export interface SupplyParameters {
  readonly intervalS: number;
  readonly noiseBar: number;
  readonly quantumBar: number;
  readonly tuning: RateTuning;
  /** Least fall that counts as drawing. */
  readonly leastFallBar: number;
  /** What the street does in a few rows anyway, one deviation. */
  readonly flickerBar: number;
  readonly law: TapLaw;
  /** Share of a fall that books which balance may be off by, as this house's draws tell. */
  readonly unseenShare: number;
  /** What the street does between two moments. */
  readonly street: StreetVariogram;
  /** A meter for the household decides what a draw is. */
  readonly metered: boolean;
  /** Loss of the service pipe by flow; undefined where no meter tells it. */
  readonly curve: SupplyCurve | undefined;
}
