import { durationWords } from '../../collector/model/duration-words.ts';
import { localText } from '../../collector/model/local-time.ts';
import type { LetterInput } from './letter-input.ts';

/** From here on a finding's time of day is no longer what a neighbour's clock showed: common practice, no source. */
const TOLD_FROM_MS = 2 * 60_000;

/** What the logger's own clock does to the times of this letter; nothing where it was right or can't be told. */
export function clockSentences({ clock, timeZone }: Pick<LetterInput, 'clock' | 'timeZone'>): string[] {
  if (clock === undefined) return [];
  const jumps = clock.jumps.map(
    ({ atMs, byMs }) =>
      `The logger's clock jumped ${byMs > 0 ? 'ahead' : 'back'} by ${durationWords(byMs)} on ${localText(atMs, timeZone, "d LLLL yyyy 'at' HH:mm")}.`,
  );
  const last = clock.estimates.at(-1);
  if (last === undefined || Math.abs(last.offsetMs) < Math.max(TOLD_FROM_MS, last.uncertaintyMs)) return jumps;
  const { offsetMs, uncertaintyMs } = last;
  const off = durationWords(offsetMs);
  const [side, late] = offsetMs > 0 ? ['ahead', 'late'] : ['behind', 'early'];
  const caveat =
    offsetMs > 0 ? '' : ' (A logger that sends every reading late by one and the same time looks the same.)';
  return [
    ...jumps,
    `${jumps.length > 0 ? 'After that it' : "The logger's clock"} was some ${off} ${side}, ± ${Math.ceil(uncertaintyMs / 1000)} s, by the clock of the machine that received its readings. Times in this letter are the logger's own and were not shifted: they are about ${off} too ${late}.${caveat}`,
  ];
}
