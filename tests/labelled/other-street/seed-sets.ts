/**
 * Seeds that may be looked at while the analysis is worked on, and seeds that only the closing table reports; `wide` ones
 * are for logs of the wide plan.
 */
export const SEED_SETS = {
  tuning: [1, 2],
  held_out: [71, 72],
  wide: [11, 12],
  wide_held_out: [91, 92],
} as const;
