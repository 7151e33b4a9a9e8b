import { durationWords } from '../../collector/model/duration-words.ts';
import { localText } from '../../collector/model/local-time.ts';
import type { LetterInput } from './letter-input.ts';

/** From here on a finding's time of day is no longer what a neighbour's clock showed: common practice, no source. */
const TOLD_FROM_MS = 2 * 60_000;

/** What the logger's own clock did to the times of this letter; nothing where it was right or can't be told. */
export function clockSentences({ clock, timeZone }: Pick<LetterInput, 'clock' | 'timeZone'>): string[] {
  if (clock === undefined) return [];
  const sentences: string[] = [];
  let behind = false;
  for (const [index, estimate] of clock.estimates.entries()) {
    const jump = clock.jumps[index - 1];
    if (jump)
      sentences.push(
        `The logger's clock jumped ${jump.byMs > 0 ? 'ahead' : 'back'} by ${durationWords(jump.byMs)} on ${localText(jump.atMs, timeZone, "d LLLL yyyy 'at' HH:mm")}.`,
      );
    if (estimate === undefined || !isTold(estimate)) continue;
    const { offsetMs, uncertaintyMs } = estimate;
    const [side, late] = offsetMs > 0 ? ['ahead', 'late'] : ['behind', 'early'];
    behind ||= offsetMs < 0;
    sentences.push(
      `${jump ? 'After that it' : "The logger's clock"} was some ${durationWords(offsetMs)} ${side}, ± ${Math.ceil(uncertaintyMs / 1000)} s, so that its times are that much too ${late}.`,
    );
  }
  if (sentences.length === 0) return [];
  return [
    ...sentences,
    `Times in this letter are the logger's own, as they were sent, and were not shifted; its clock was compared with that of the machine that received its readings.${behind ? ' (A logger that sends every reading late by one and the same time looks like one whose clock is behind.)' : ''}`,
  ];
}

function isTold({ offsetMs, uncertaintyMs }: { readonly offsetMs: number; readonly uncertaintyMs: number }): boolean {
  return Math.abs(offsetMs) >= Math.max(TOLD_FROM_MS, uncertaintyMs);
}
