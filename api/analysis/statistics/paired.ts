import { normalCdf } from './normal.ts';
import { median } from './quantile.ts';

/** Longest list whose exact distribution is enumerated; beyond it the normal approximation is used. */
const EXACT_UP_TO = 40;

export interface SignedRank {
  /** Sum of the ranks of positive differences. */
  readonly v: number;
  /** Chance of so great a V, or greater, where signs are random. */
  readonly greaterP: number;
  readonly exact: boolean;
}

/**
 * Wilcoxon's signed-rank test on paired differences, one-sided ("greater than nought"). Noughts are dropped, ties take
 * mid-ranks; exact by counting subsets of (doubled) ranks up to 40 pairs. Hollander and Wolfe, chapter 3.
 */
export function wilcoxonSignedRank(differences: readonly number[]): SignedRank {
  const kept = differences.filter((d) => d !== 0 && Number.isFinite(d));
  const n = kept.length;
  const order = kept.map((d) => ({ size: Math.abs(d), positive: d > 0 })).sort((a, b) => a.size - b.size);
  const doubledRanks: number[] = [];
  for (let i = 0; i < n; ) {
    let j = i;
    while (j < n && order[j]!.size === order[i]!.size) j++;
    for (let m = i; m < j; m++) doubledRanks[m] = i + 1 + j;
    i = j;
  }
  let doubledV = 0;
  for (let i = 0; i < n; i++) if (order[i]!.positive) doubledV += doubledRanks[i]!;
  if (n === 0) return { v: 0, greaterP: 1, exact: true };
  if (n > EXACT_UP_TO) {
    const squares = doubledRanks.reduce((sum, r) => sum + (r / 2) ** 2, 0);
    const z = (doubledV / 2 - (n * (n + 1)) / 4) / Math.sqrt(squares / 4);
    return { v: doubledV / 2, greaterP: 1 - normalCdf(z), exact: false };
  }
  const total = doubledRanks.reduce((sum, r) => sum + r, 0);
  const ways = new Float64Array(total + 1);
  ways[0] = 1;
  for (const rank of doubledRanks) for (let s = total; s >= rank; s--) ways[s] = ways[s]! + ways[s - rank]!;
  let tail = 0;
  for (let s = doubledV; s <= total; s++) tail += ways[s]!;
  return { v: doubledV / 2, greaterP: tail / 2 ** n, exact: true };
}

/** Hodges–Lehmann estimate of a paired shift: the median of all averages of two differences (Walsh averages). */
export function hodgesLehmann(differences: readonly number[]): number {
  const walsh: number[] = [];
  for (let i = 0; i < differences.length; i++) {
    for (let j = i; j < differences.length; j++) walsh.push((differences[i]! + differences[j]!) / 2);
  }
  return median(walsh);
}
