import type { RigRandom } from './rig-random.ts';

/** One opening of an outlet. Flow is `lpm` at 3 bar and follows √p, or stays at `lpm` where `regulated`. */
export interface RigDraw {
  readonly fromS: number;
  readonly toS: number;
  readonly lpm: number;
  readonly regulated: boolean;
  /** The last seconds over which a float valve closes by and by; a tap closes at once. */
  readonly closingS: number;
}

/*
 * End uses after the published figures of Blokker et al. 2010 (J. Water Resour. Plann. Manage.): frequencies, lengths
 * and flows of showers, cisterns, kitchen and bathroom taps, washing machine and dishwasher. Hours by common practice.
 */
export function rigDemand(random: RigRandom, days: number, people: number): RigDraw[] {
  const draws: RigDraw[] = [];
  const add = (day: number, hour: number, lengthS: number, lpm: number, closingS = 0, regulated = false): void => {
    const fromS = day * 86_400 + hour * 3600;
    if (lpm >= 0.4 && lengthS >= 2) draws.push({ fromS, toS: fromS + lengthS, lpm, regulated, closingS });
  };
  const showerLpm = random.pick([8.5, 7.4, 13, 8]);
  const regulatedShower = random.chance(0.3);
  for (let day = 0; day < days; day++) {
    const many = (mean: number): number => random.poisson(mean);
    for (let k = many(0.7 * people); k > 0; k--) {
      add(day, hourOf(random), 60 * random.uniform(3, 13), showerLpm, 0, regulatedShower);
    }
    for (let k = many(5.5 * people); k > 0; k--) {
      const litres = random.pick([6, 9]);
      const hour = hourOf(random);
      add(day, hour, (60 * litres) / 2.5, 2.5, 25, false);
      if (random.chance(0.7)) add(day, hour + 0.01, random.uniform(5, 20), random.uniform(2, 5));
    }
    for (let k = many(12); k > 0; k--) {
      const mean = random.pick([15, 15, 15, 45, 45, 13, 13, 37]);
      add(day, hourOf(random), mean * Math.exp(0.5 * random.normal()), random.uniform(0, mean === 45 ? 15 : 10));
    }
    for (let k = many(4.1 * people); k > 0; k--) {
      add(day, hourOf(random), random.chance(0.33) ? 40 : 15, random.uniform(0, 5));
    }
    if (random.chance(0.5)) {
      const hour = random.uniform(8, 20);
      for (const [atS, lengthS] of [
        [0, 121],
        [3600, 60],
        [4920, 60],
        [6120, 60],
      ] as const) {
        add(day, hour + atS / 3600, lengthS, 10, 0, true);
      }
    }
    if (random.chance(0.4)) {
      const hour = random.uniform(12, 21);
      for (const atS of [0, 1860, 3660, 5460]) add(day, hour + atS / 3600, 24, 10, 0, true);
    }
    if (random.chance(0.1)) add(day, random.uniform(16, 20), random.uniform(300, 2400), random.uniform(8, 12));
  }
  return draws.filter((draw) => draw.toS < days * 86_400).sort((a, b) => a.fromS - b.fromS);
}

/** Morning and evening are busy, the night nearly still. */
function hourOf(random: RigRandom): number {
  const part = random.next();
  if (part < 0.04) return random.uniform(0, 6);
  if (part < 0.38) return Math.min(23.8, Math.max(0, 7.5 + random.normal()));
  if (part < 0.65) return random.uniform(9, 17);
  return Math.min(23.8, 19.5 + 1.8 * random.normal());
}
