/** A seeded source of chance: the same seed gives the same log on every machine. */
export interface Seeded {
  /** Uniform in [0, 1). */
  next(): number;
  between(from: number, to: number): number;
  /** Uniform in the logarithm, for what ranges over magnitudes. */
  betweenLog(from: number, to: number): number;
  whole(from: number, to: number): number;
  pick<T>(options: readonly T[]): T;
  chance(share: number): boolean;
  normal(): number;
  count(mean: number): number;
}

/** Weyl sequence through a mixing function (splitmix, 32 bit). */
export function seeded(text: string): Seeded {
  let state = 0x811c9dc5;
  for (const letter of text) state = Math.imul(state ^ letter.codePointAt(0)!, 0x01000193) >>> 0;
  const next = (): number => {
    state = (state + 0x9e3779b9) >>> 0;
    let mixed = state ^ (state >>> 16);
    mixed = Math.imul(mixed, 0x21f0aaad);
    mixed ^= mixed >>> 15;
    mixed = Math.imul(mixed, 0x735a2d97);
    return ((mixed ^ (mixed >>> 15)) >>> 0) / 4_294_967_296;
  };
  const between = (from: number, to: number) => from + (to - from) * next();
  const normal = () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
  return {
    next,
    between,
    betweenLog: (from, to) => Math.exp(between(Math.log(from), Math.log(to))),
    whole: (from, to) => Math.floor(between(from, to + 1)),
    pick: (options) => options[Math.floor(next() * options.length)]!,
    chance: (share) => next() < share,
    normal,
    count: (mean) => {
      const limit = Math.exp(-mean);
      let product = next();
      let count = 0;
      while (product > limit) {
        product *= next();
        count++;
      }
      return count;
    },
  };
}
