import type { Cycling, CyclingCause } from '../findings.ts';

export interface WeighedCauses {
  /** Likeliest first, by the starts that stand behind each; a second-named one counts half. */
  readonly causes: readonly CyclingCause[];
  /** Most of the starts belong to episodes that name one cause only, or there is no other. */
  readonly sure: boolean;
}

/** What several episodes point to together. */
export function weighCauses(episodes: readonly Pick<Cycling, 'causes' | 'starts'>[]): WeighedCauses {
  const weights = new Map<CyclingCause, number>();
  let alone = 0;
  let total = 0;
  for (const { causes, starts } of episodes) {
    total += starts;
    if (causes.length === 1) alone += starts;
    causes.forEach((cause, place) => {
      weights.set(cause, (weights.get(cause) ?? 0) + starts / (1 + place));
    });
  }
  const causes = [...weights.entries()].sort((a, b) => b[1] - a[1]).map(([cause]) => cause);
  return { causes, sure: alone > total / 2 || causes.length < 2 };
}
