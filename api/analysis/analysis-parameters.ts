import type { PumpParameters } from './pump/findings-of-runs.ts';
import type { CleaningParameters } from './quality/cleaning-parameters.ts';
import type { SupplyParameters } from './supply/supply-parameters.ts';

/**
 * What the analysis asks of a whole log: rate, noise, converter step, what counts as stuck, the street's flicker, the
 * law of the house's taps, a pump's switch and how its plant rests. A live watch has those of the last full analysis; with the same ones it finds the same.
 */
export interface AnalysisParameters {
  readonly cleaning: CleaningParameters;
  /** Undefined at a pump's outlet, where nothing of the supply shows. */
  readonly supply: SupplyParameters | undefined;
  /** Undefined where nothing tells of a pump. */
  readonly pump: PumpParameters | undefined;
}
