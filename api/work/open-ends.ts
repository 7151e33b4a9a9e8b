import type { Clock } from '../../collector/model/clock.ts';
import type { EpochMs } from '../../collector/model/units.ts';

/** An answer to a question without an end may be this old: with a sample a second it would else never be ready. */
export const OPEN_END_AGE_MS = 60_000;
/** A long record's answer may be older, so that no more than a tenth of a core goes into it. */
const TIMES_ITS_MAKING = 10;
const OLDEST_MS = 15 * 60_000;
/** Questions remembered; the oldest are forgotten. */
const QUESTIONS_LIMIT = 1_000;

interface Question {
  readonly toMs: EpochMs;
  readonly askedMs: EpochMs;
  keptForMs: number;
}

/**
 * Ends of questions that leave the end open. While samples come in, the end stays where it was for a minute or so: the
 * answer is the same then and is at hand. It says until when it reaches. What comes or changes before that end counts at
 * once, and so does a jump of the record ahead (an import).
 */
export interface OpenEnds {
  /** The end to answer up to; `newestMs`: where the record ends now. */
  settle(question: string, newestMs: EpochMs): EpochMs;
  /** Answers up to that end from now on: somebody has been told of it. */
  renew(question: string, newestMs: EpochMs): void;
  /** How long the answer up to that end took to make. */
  took(question: string, toMs: EpochMs, ms: number): void;
}

export function createOpenEnds(clock: Clock): OpenEnds {
  const known = new Map<string, Question>();

  function renew(question: string, newestMs: EpochMs): void {
    const keptForMs = known.get(question)?.keptForMs ?? OPEN_END_AGE_MS;
    known.delete(question);
    known.set(question, { toMs: newestMs, askedMs: clock.nowMs(), keptForMs });
    for (const oldest of known.keys()) {
      if (known.size <= QUESTIONS_LIMIT) break;
      known.delete(oldest);
    }
  }

  return {
    renew,
    settle(question, newestMs) {
      const nowMs = clock.nowMs();
      const before = known.get(question);
      if (before) {
        const ageMs = nowMs - before.askedMs;
        const addedMs = newestMs - before.toMs;
        if (ageMs >= 0 && ageMs < before.keptForMs && addedMs >= 0 && addedMs <= before.keptForMs) return before.toMs;
      }
      renew(question, newestMs);
      return newestMs;
    },
    took(question, toMs, ms) {
      const asked = known.get(question);
      if (asked?.toMs === toMs) asked.keptForMs = Math.min(OLDEST_MS, Math.max(OPEN_END_AGE_MS, TIMES_ITS_MAKING * ms));
    },
  };
}
