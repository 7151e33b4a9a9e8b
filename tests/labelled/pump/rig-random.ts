/** Seeded draws for labelled rigs: a 32-bit xorshift-multiply stream (splitmix style, public domain, from memory). */
export class RigRandom {
  private state: number;

  constructor(seed: number) {
    this.state = (Math.imul(seed, 0x9e3779b1) ^ 0x5bf03635) >>> 0;
  }

  next(): number {
    this.state = (this.state + 0x9e3779b9) >>> 0;
    let z = this.state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return ((z ^ (z >>> 15)) >>> 0) / 4_294_967_296;
  }

  uniform(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Even in the logarithm: as many small things as large ones. */
  logUniform(low: number, high: number): number {
    return low * (high / low) ** this.next();
  }

  chance(share: number): boolean {
    return this.next() < share;
  }

  pick<T>(list: readonly T[]): T {
    return list[Math.min(list.length - 1, Math.floor(this.next() * list.length))]!;
  }

  normal(): number {
    return Math.sqrt(-2 * Math.log(1 - this.next())) * Math.cos(2 * Math.PI * this.next());
  }

  /** Events of a Poisson process by Knuth's product. */
  poisson(mean: number): number {
    const limit = Math.exp(-mean);
    let count = 0;
    for (let product = this.next(); product > limit; product *= this.next()) count++;
    return count;
  }
}
