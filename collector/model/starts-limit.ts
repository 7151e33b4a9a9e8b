/*
 * Starts an hour that a motor bears, as examples beside the setting: none is assumed. NEMA MG 10 as two reprints give it;
 * makers' figures are common practice, no source.
 */

/** A motor's allowed starts and the least rest between them by NEMA MG 10 (three-phase, design A or B). */
export interface StartsLimitExample {
  readonly poles: 2 | 4;
  readonly horsepower: number;
  readonly startsPerHour: number;
  readonly leastRestS: number;
}

/** The smaller motors of the table: those of household boosters. */
export const NEMA_MG_10_STARTS: readonly StartsLimitExample[] = [
  { poles: 2, horsepower: 1, startsPerHour: 15, leastRestS: 75 },
  { poles: 2, horsepower: 1.5, startsPerHour: 12.9, leastRestS: 76 },
  { poles: 2, horsepower: 2, startsPerHour: 11.5, leastRestS: 77 },
  { poles: 2, horsepower: 3, startsPerHour: 9.9, leastRestS: 80 },
  { poles: 2, horsepower: 5, startsPerHour: 8.1, leastRestS: 83 },
  { poles: 4, horsepower: 1, startsPerHour: 30, leastRestS: 38 },
  { poles: 4, horsepower: 1.5, startsPerHour: 25.7, leastRestS: 38 },
  { poles: 4, horsepower: 2, startsPerHour: 23, leastRestS: 39 },
  { poles: 4, horsepower: 3, startsPerHour: 19.8, leastRestS: 40 },
  { poles: 4, horsepower: 5, startsPerHour: 16.3, leastRestS: 42 },
];

export const NEMA_SOURCE = 'NEMA MG 10, three-phase motors of design A or B';

/** What the table doesn't cover. */
export const STARTS_LIMIT_SCOPE =
  'A load that is slow to come up to speed allows fewer. Small single-phase sets are outside that table: makers often name ' +
  '20 to 60 an hour (common practice). The nameplate or the maker’s sheet goes before all of these.';

/** `2-pole 1 hp 15, 2 hp 11.5; 4-pole 1 hp 30, 2 hp 23`: the examples in one line. */
export function startsLimitExamples(horsepowers: readonly number[] = [1, 2, 3]): string {
  return ([2, 4] as const)
    .map((poles) => {
      const some = NEMA_MG_10_STARTS.filter((one) => one.poles === poles && horsepowers.includes(one.horsepower));
      return `${poles}-pole ${some.map((one) => `${one.horsepower} hp ${one.startsPerHour}`).join(', ')}`;
    })
    .join('; ');
}
