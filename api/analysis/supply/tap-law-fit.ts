import { type Books, keepBooks } from './books.ts';
import type { Edges } from './edge-levels.ts';
import { type TapLaw, USUAL_TAP_LAW } from './tap-law.ts';

/** Outlet heights and exponents tried: from a laminar pipe behind a tap to a fully rough one. */
const HEIGHTS_BAR = [-0.1, 0, 0.075, 0.15, 0.225, 0.3, 0.4, 0.5, 0.65];
const EXPONENTS = [0.8, 0.87, 0.926, 1];
/** A draw tells the law only where the running pressure drifted by this much within it. */
const TELLING_DRIFT = 0.04;
const FEWEST_TELLING_DRAWS = 4;
/** Misfit is capped, so that a few wrong pairings don't choose the law. */
const MISFIT_CAP = 9;

export interface LawSample {
  readonly edges: Edges;
  readonly from: number;
  readonly to: number;
  readonly books: Books;
  readonly timeMs: Float64Array;
}

/**
 * The tap's law of this house: the height and exponent with which the books of its own draws balance best where the
 * street moved under them. The usual law where too few draws can tell, or none does clearly better.
 */
export function fitTapLaw(samples: readonly LawSample[]): TapLaw {
  const telling = samples.filter(
    ({ books }) => books.segment.kind === 'edge' && books.drift > TELLING_DRIFT && Math.abs(books.residualBar) < 0.3,
  );
  if (telling.length < FEWEST_TELLING_DRAWS) return USUAL_TAP_LAW;
  const misfit = (law: TapLaw): number => {
    let sum = 0;
    for (const { edges, from, to, books, timeMs } of telling) {
      const { residualBar, stretches } = keepBooks(edges, books.segment, from, to, law, timeMs);
      const first = stretches[0]!;
      sum += Math.min(MISFIT_CAP, residualBar ** 2 / (2 * first.varianceBar2 + (0.02 * first.fallBar) ** 2));
    }
    return sum;
  };
  let best = USUAL_TAP_LAW;
  // The usual law keeps its place unless another one earns it: two parameters cost as much in a likelihood.
  let least = misfit(USUAL_TAP_LAW) - 4;
  for (const heightBar of HEIGHTS_BAR) {
    for (const exponent of EXPONENTS) {
      const law = { heightBar, exponent };
      const cost = misfit(law);
      if (cost < least) {
        least = cost;
        best = law;
      }
    }
  }
  return best;
}
