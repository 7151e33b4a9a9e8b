import { type Books, keepBooks } from './books.ts';
import type { DrawSegment } from './draw-courses.ts';
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

/** A draw that tells the law, with nothing but its own edges: rows count from the opening one. */
export interface TellingDraw {
  readonly edges: Edges;
  readonly segment: DrawSegment;
  readonly timeMs: Float64Array;
}

/** What a draw tells of the law; undefined where the running pressure hardly drifted, or the books don't balance at all. */
export function tellingDraw(edges: Edges, books: Books, timeMs: Float64Array): TellingDraw | undefined {
  const { segment, drift, residualBar } = books;
  if (segment.kind !== 'edge' || segment.zeroStepEdge >= 0 || drift <= TELLING_DRIFT || Math.abs(residualBar) >= 0.3)
    return undefined;
  const [from, to] = [segment.open, segment.close + 1];
  const count = to - from;
  return {
    edges: {
      count,
      row: Int32Array.from({ length: count }, (_, k) => k),
      beforeBar: edges.beforeBar.slice(from, to),
      afterBar: edges.afterBar.slice(from, to),
      sdBar: edges.sdBar.slice(from, to),
      flickerBar: edges.flickerBar.slice(from, to),
    },
    segment: { ...segment, open: 0, close: count - 1, taperEdge: count - 1 },
    timeMs: Float64Array.from({ length: count }, (_, k) => timeMs[edges.row[from + k]!]!),
  };
}

/**
 * The tap's law of this house: the height and exponent with which the books of its own draws balance best where the
 * street moved under them. The usual law where too few draws can tell, or none does clearly better.
 * @param telling draws accounted for under the usual law
 */
export function fitTapLaw(telling: readonly TellingDraw[]): TapLaw {
  if (telling.length < FEWEST_TELLING_DRAWS) return USUAL_TAP_LAW;
  const misfit = (law: TapLaw): number => {
    let sum = 0;
    for (const { edges, segment, timeMs } of telling) {
      const { residualBar, stretches } = keepBooks(edges, segment, 0, edges.count, law, timeMs);
      // Nothing flows from an outlet that stands above what the running pressure lifts.
      if (stretches.some(({ atBar }) => atBar < law.heightBar)) {
        sum += MISFIT_CAP;
        continue;
      }
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
