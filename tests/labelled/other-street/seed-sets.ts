/** Seeds that may be looked at while the analysis is worked on, and seeds that only the closing table reports. */
export const SEED_SETS = { tuning: [1, 2], held_out: [71, 72] } as const;
