import { drawnHousehold, drawnPipes, drawnStreet } from './drawn-parts.ts';
import type { HousePlan } from './house.ts';
import type { RandomStream } from './random.ts';
import type { Scenario } from './scenario.ts';
import type { Span, StreetPlan } from './street.ts';

/** What a named scenario is given to draw from. */
export interface Setting {
  readonly random: RandomStream;
  readonly seed: number;
  readonly startMs: number;
  readonly endMs: number;
  readonly timeZone: string;
  /** A moment at that share of the span, on a whole minute. */
  part(share: number): number;
}

export type Drawn = Partial<Omit<Scenario, 'house'>> & { readonly house: HousePlan };

export interface NamedScenario {
  readonly summary: string;
  readonly timeZone?: string;
  /** A local date that the span must hold, a little past its middle. */
  readonly about?: string;
  draw(setting: Setting): Drawn;
}

const CALM_SWING: Span = [0.06, 0.2];

/** A house with its own pipe from the main and nothing else to it. */
export function plain(
  s: Setting,
  base: Span,
  street: Partial<StreetPlan>,
  options: { lossAtNine?: Span; swing?: Span } = {},
): Drawn {
  const { random } = s;
  const main = drawnStreet(random, s.seed, s.timeZone, base, options.swing ?? CALM_SWING, street);
  const pipes = drawnPipes(random, options.lossAtNine);
  return {
    house: {
      timeZone: s.timeZone,
      street: main,
      household: drawnHousehold(random, s.seed, main.baseBar - 0.25),
      neighbour: undefined,
      pipes,
      throttled: undefined,
      ringBarPerLpmS: random.uniform(0.003, 0.03),
      position: 'incoming',
      booster: [],
    },
  };
}
