import { drawOutlet, type Opening, type OutletStyle } from './outlets.ts';
import type { Seeded } from './seeded.ts';
import type { WallClock } from './wall-clock.ts';

export interface Habits extends OutletStyle {
  readonly people: number;
  /** Multiplies how often taps, cisterns and showers are used. */
  readonly busy: number;
  readonly showersTogether: boolean;
  readonly cisternCloseS: readonly [number, number];
  readonly machinesPerDay: number;
  readonly hosesPerDay: number;
  readonly poolFills: number;
  readonly bathsPerDay: number;
  /** Hours between which people are up. */
  readonly dayHours: readonly [number, number];
}

/**
 * Everything the household opens over the log, by ascending start. Frequencies and durations after reference values 8.1
 * (showers 0.7 a person-day of about 8 min, cisterns 5, kitchen taps about 12 a household-day, machines' fills).
 */
export function plannedOpenings(
  habits: Habits,
  startMs: number,
  endMs: number,
  clock: WallClock,
  chance: Seeded,
): Opening[] {
  const outlet = (lpm: readonly [number, number]) => drawOutlet(chance, habits, lpm);
  const kitchen = drawOutlet(chance, { ...habits, heightM: [0.2, 1.2] }, [6, 13]);
  const garden = drawOutlet(chance, { heightM: [0, 0.8], regulated: 0 }, [10, 18]);
  const basins = [outlet([3, 7]), outlet([3, 6])];
  const showers = [outlet([6, 13]), outlet([6, 11])];
  const cisterns = [outlet([3, 7]), outlet([3, 6])];
  const bath = outlet([11, 18]);
  const washer = drawOutlet(chance, { ...habits, regulated: 0.8, heightM: [0.3, 0.9] }, [6, 11]);
  const dishes = drawOutlet(chance, { ...habits, regulated: 1, heightM: [0.2, 0.6] }, [3, 5]);
  const cisternClose = chance.between(habits.cisternCloseS[0], habits.cisternCloseS[1]);
  const openings: Opening[] = [];
  const add = (atMs: number, seconds: number, of: Opening['outlet'], more: Partial<Opening> = {}) => {
    const startS = Math.round((atMs - startMs) / 1000);
    const openS = more.openS ?? chance.between(0.5, 2);
    const closeS = more.closeS ?? chance.between(0.5, 2);
    const opening = {
      outlet: of,
      startS,
      endS: startS + Math.max(2, Math.round(seconds)),
      openS,
      closeS,
      share: 1,
      huntShare: 0,
      huntS: 5,
      ...more,
    };
    if (startS > 5 && opening.endS < (endMs - startMs) / 1000 - 5) openings.push(opening);
  };
  const [up, bed] = habits.dayHours;
  for (const { date, weekday } of clock.dates(startMs, endMs)) {
    const late = weekday === 0 || weekday === 6 ? 1 : 0;
    const at = (hour: number) => clock.at(date, hour);
    const anyHour = () =>
      at(
        chance.chance(0.6)
          ? chance.chance(0.5)
            ? up + late + 1.2 + 0.9 * chance.normal()
            : bed - 3.5 + 1.3 * chance.normal()
          : chance.between(up, bed),
      );
    for (let person = 0; person < habits.people; person++) {
      if (chance.chance(0.75)) {
        const hour = chance.chance(0.7) ? up + late + 0.8 + 0.4 * chance.normal() : bed - 1.5 + 0.5 * chance.normal();
        const together = habits.showersTogether && person % 2 === 1;
        add(at(hour) - (together ? chance.between(0, 300_000) : 0), chance.betweenLog(180, 900), showers[person % 2]!, {
          huntShare: chance.between(0.05, 0.3),
          huntS: chance.between(4, 15),
        });
      }
      for (let n = chance.count(5 * habits.busy); n > 0; n--) {
        const when = anyHour();
        const valve = chance.pick(cisterns);
        const fill = chance.between(45, 150);
        add(when, fill + cisternClose, valve, { closeS: cisternClose });
        if (chance.chance(0.6))
          add(when + chance.between(5, 40) * 1000, chance.betweenLog(5, 30), chance.pick(basins), {
            share: chance.between(0.4, 1),
          });
      }
      for (let n = chance.count(4 * habits.busy); n > 0; n--)
        add(anyHour(), chance.betweenLog(6, 90), chance.pick(basins), { share: chance.between(0.4, 1) });
    }
    for (let n = chance.count(12 * habits.busy); n > 0; n--)
      add(anyHour(), chance.betweenLog(5, 120), kitchen, { share: chance.between(0.35, 1) });
    for (let n = chance.count(habits.bathsPerDay); n > 0; n--)
      add(at(bed - 2 + chance.normal()), chance.between(300, 900), bath);
    for (let n = chance.count(habits.hosesPerDay); n > 0; n--)
      add(at(chance.between(9, 20.5)), chance.betweenLog(600, 5400), garden, { share: chance.between(0.6, 1) });
    for (let n = chance.count(habits.machinesPerDay); n > 0; n--) {
      const begin = at(chance.between(8, 21));
      const wash = chance.chance(0.5);
      const fills = wash ? [0, 3600, 4920, 6120] : [0, 1860, 3660, 5460];
      for (const fill of fills) {
        // A solenoid shuts at once; levelling gives two or three pulses.
        for (let pulse = 0, when = fill; pulse < chance.whole(1, 3); pulse++) {
          const seconds = wash ? chance.between(15, 70) : chance.between(12, 45);
          add(begin + when * 1000, seconds, wash ? washer : dishes, { openS: 0.3, closeS: 0.3 });
          when += seconds + chance.between(8, 40);
        }
      }
    }
  }
  for (let n = 0; n < habits.poolFills; n++) {
    const dates = clock.dates(startMs, endMs);
    add(clock.at(chance.pick(dates).date, chance.between(8, 15)), chance.between(1.2, 3.5) * 3600, garden);
  }
  return openings.sort((a, b) => a.startS - b.startS);
}
