import { median } from '../statistics/quantile.ts';
import { MAD_TO_SIGMA } from '../statistics/robust.ts';
import type { Books } from './books.ts';

/** How well the books of one draw balanced, as shares of its fall. */
export interface Balance {
  /** What was left after the closing edge. */
  readonly residualShare: number;
}

/** The balance of a draw that both its edges tell; undefined for others. */
export function balanceOf({ segment, residualBar, stretches }: Books): Balance | undefined {
  if (segment.kind !== 'edge' || segment.zeroStepEdge >= 0) return undefined;
  if (stretches.some(({ easedToBar }) => easedToBar !== undefined)) return undefined;
  const fall = Math.max(...stretches.map(({ fallBar }) => fallBar));
  if (!(fall > 0)) return undefined;
  return { residualShare: residualBar / fall };
}

/** Share of a fall that books may be off by though they balance, before a house's draws tell: slow changes make up for each other. */
export const USUAL_UNSEEN_SHARE = 0.07;
/** As many draws as the usual share counts for; it is the most that is taken, too. */
const PRIOR_DRAWS = 10;
/** What is left at closing grew in between: of a house whose draws balance to a share g, books are off by about 1.2·g inside. */
const INSIDE_PER_BALANCE = 1.2;
/** Even where everything balances: a thermostat's and a hand's slow moves. */
const LEAST_SHARE = 0.01;

/**
 * Share of a fall that the books of this house may be off by inside a draw. The more exactly its draws balance at the closing
 * edge, the steadier is its flow, and the better carries the law of the tap. Noise of the edges is not taken off: it is in the
 * books as well.
 */
export function unseenShareOf(balances: readonly Balance[]): number {
  const prior = (USUAL_UNSEEN_SHARE - LEAST_SHARE) / INSIDE_PER_BALANCE;
  const balance = MAD_TO_SIGMA * median(balances.map(({ residualShare }) => Math.abs(residualShare)));
  const n = balances.length;
  const share = n === 0 ? prior : Math.sqrt((PRIOR_DRAWS * prior ** 2 + n * balance ** 2) / (PRIOR_DRAWS + n));
  return Math.min(USUAL_UNSEEN_SHARE, LEAST_SHARE + INSIDE_PER_BALANCE * share);
}
