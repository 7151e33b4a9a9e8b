/*
 * How often, how long and how strongly a household draws: figures of the SIMDEUM family (Blokker et al. 2010, J. Water
 * Resour. Plann. Manage.; parameter files of the open port by its institute, Netherlands and United Kingdom sets).
 * The figures are theirs, with thanks; the arrangement into a day is ours. Flows in l/min, times in seconds.
 */

export const REGIONS = ['NL', 'UK'] as const;
export type Region = (typeof REGIONS)[number];

export const SHOWER: Record<
  Region,
  { perPersonDay: number; meanMinutes: number; flowsLpm: readonly [number, number] }
> = {
  NL: { perPersonDay: 0.72, meanMinutes: 8.8, flowsLpm: [8.52, 7.38] },
  UK: { perPersonDay: 0.63, meanMinutes: 7.5, flowsLpm: [13.02, 7.98] },
};

export const BATH: Record<Region, { perPersonDay: number; litres: number; flowLpm: number }> = {
  NL: { perPersonDay: 0.043, litres: 120, flowLpm: 12 },
  UK: { perPersonDay: 0.19, litres: 80, flowLpm: 12 },
};

export const WC: Record<Region, { perPersonDay: number }> = { NL: { perPersonDay: 5.9 }, UK: { perPersonDay: 5 } };
export const WC_FLOW_LPM = 2.52;
/** Cisterns of 9 l and of 6 l. */
export const WC_LITRES = [9, 6] as const;

/**
 * Kitchen tap uses per household-day for 1 to 5 people; negative binomial with a standard deviation of 7 (one person) to
 * 9.1 (five), between them interpolated.
 */
export const KITCHEN_PER_DAY = [10.1, 12.7, 12.8, 13.1, 13.5] as const;
export const KITCHEN_SIGMA = [7, 7.5, 8.1, 8.6, 9.1] as const;
export const KITCHEN_USES = [
  { share: 0.375, meanS: 15, maxLpm: 10 },
  { share: 0.25, meanS: 45, maxLpm: 15 },
  { share: 0.25, meanS: 13, maxLpm: 10 },
  { share: 0.125, meanS: 37, maxLpm: 10 },
] as const;

export const BATHROOM_TAP_PER_PERSON_DAY = 4.1;
export const BATHROOM_TAP_USES = [
  { share: 1 / 3, meanS: 40, maxLpm: 5 },
  { share: 2 / 3, meanS: 15, maxLpm: 5 },
] as const;

export const WASHING_MACHINE_PER_PERSON_DAY = [0.32, 0.29, 0.29, 0.29, 0.29] as const;
export const WASHING_MACHINE_FILLS = [
  { atS: 0, seconds: 121 },
  { atS: 3600, seconds: 60 },
  { atS: 4920, seconds: 60 },
  { atS: 6120, seconds: 60 },
] as const;
export const DISHWASHER_PER_PERSON_DAY = [0.2143, 0.2286, 0.1857, 0.2, 0.1429] as const;
export const DISHWASHER_FILLS = [
  { atS: 0, seconds: 24 },
  { atS: 1860, seconds: 24 },
  { atS: 3660, seconds: 24 },
  { atS: 5460, seconds: 12 },
] as const;
export const MACHINE_FLOW_LPM = 10;

export const GARDEN_TAP_PER_PERSON_DAY = 0.44;
export const GARDEN_TAP_HOMES = 0.58;
export const GARDEN_TAP_USES = [
  { share: 0.75, meanS: 300, maxLpm: 12 },
  { share: 0.25, meanS: 15, maxLpm: 12 },
] as const;
