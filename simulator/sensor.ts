import { RandomStream } from './random.ts';

export interface SensorPlan {
  readonly rangeBar: readonly [number, number];
  /** Limits of error that its maker states, ±, in bar. */
  readonly accuracyBar: number;
  /** Its true offset, within those limits. */
  readonly offsetBar: number;
  readonly noiseBar: number;
  readonly stepBar: number;
}

/**
 * Step of a converter of so many bits that spans 5 V, over a transducer of 0.5 to 4.5 V: five fourths of the range over
 * 2^bits (10 bits and 10 bar: 12.2 mbar).
 */
export function converterStepBar(rangeBar: readonly [number, number], bits: number): number {
  return ((rangeBar[1] - rangeBar[0]) * 1.25) / 2 ** bits;
}

/** True pressures → what the transducer says: offset, noise, range, steps. */
export class Sensor {
  private readonly plan: SensorPlan;
  private readonly random: RandomStream;

  constructor(plan: SensorPlan, seed: number, name: string) {
    this.plan = plan;
    this.random = new RandomStream(seed, 'sensor', name);
  }

  read(trueBar: number): number {
    const { offsetBar, noiseBar, stepBar, rangeBar } = this.plan;
    const bar = trueBar + offsetBar + noiseBar * this.random.normal();
    const held = Math.min(rangeBar[1], Math.max(rangeBar[0], bar));
    return Math.round(held / stepBar) * stepBar;
  }
}
