/** Tables whose chance differs by less than this share are as rare as one another: rounding, not data. */
const ALIKE_SHARE = 1e-7;

/** ln n!, by addition: n is a count of days here, a few hundred at most. */
function logFactorial(n: number): number {
  let sum = 0;
  for (let k = 2; k <= n; k++) sum += Math.log(k);
  return sum;
}

function logChoose(n: number, k: number): number {
  return logFactorial(n) - logFactorial(k) - logFactorial(n - k);
}

/** Sign test: chance of at least so many of so many where either side is as likely as the other (binomial, p = 1/2). */
export function signGreaterP(successes: number, trials: number): number {
  let tail = 0;
  for (let k = successes; k <= trials; k++) tail += Math.exp(logChoose(trials, k) - trials * Math.LN2);
  return Math.min(1, tail);
}

/**
 * McNemar's test in its exact, one-sided form: pairs that show a thing on one side only, against pairs that show it on
 * the other only; those that show it on both sides or on neither say nothing. It is the sign test of the former among
 * both (McNemar, Psychometrika 12 (1947) 153; exact form: Conover, Practical Nonparametric Statistics, 3.5).
 * @returns chance of so many on the one side, or more, where neither side is likelier; 1 where no pair differs
 */
export function mcnemarGreaterP(onlyHere: number, onlyThere: number): number {
  return signGreaterP(onlyHere, onlyHere + onlyThere);
}

/** Two groups, and how many of each show a thing. */
export interface TwoShares {
  readonly with: readonly [number, number];
  readonly of: readonly [number, number];
}

/**
 * Fisher's exact test of a fourfold table: chance, with all four sums held, of a table as rare as this one or rarer
 * (two-sided), and of so few or fewer in the first group (`less`). Fisher, Statistical Methods for Research Workers, 21.02.
 */
export function fisherExact({ with: [first, second], of: [ofFirst, ofSecond] }: TwoShares): {
  readonly p: number;
  readonly less: number;
} {
  const shown = first + second;
  const all = ofFirst + ofSecond;
  const chance = (k: number) =>
    Math.exp(logChoose(ofFirst, k) + logChoose(ofSecond, shown - k) - logChoose(all, shown));
  const seen = chance(first);
  let p = 0;
  let less = 0;
  for (let k = Math.max(0, shown - ofSecond); k <= Math.min(shown, ofFirst); k++) {
    const here = chance(k);
    if (here <= seen * (1 + ALIKE_SHARE)) p += here;
    if (k <= first) less += here;
  }
  return { p: Math.min(1, p), less: Math.min(1, less) };
}
