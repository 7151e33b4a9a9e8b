import type { LoggerResource } from '../../api/contract/payloads.ts';
import { durationWords } from '../../collector/model/duration-words.ts';
import { dateAndClock } from '../format.ts';
import { createSiteTime } from '../site-time.ts';

const SECONDS_A_DAY = 86_400;
/** A slower drift is no more than a cheap crystal's and takes weeks to matter. */
const DRIFT_TOLD_S_A_DAY = 1;

/** What is known of a logger's own clock, in sentences. */
export function clockSentence({ clock }: Pick<LoggerResource, 'clock'>, timeZone: string | undefined): string {
  const { state, offsetS, uncertaintyS, driftPpm, jumps } = clock;
  if (state === 'none') return 'It sends no times of its own; the time of arrival stands in.';
  const jump = jumps.at(-1);
  const jumped =
    jump === undefined
      ? ''
      : ` It last jumped ${jump.byS > 0 ? 'ahead' : 'back'} by ${durationWords(jump.byS * 1000)} on ${dateAndClock(Date.parse(jump.at), createSiteTime(timeZone ?? 'UTC'))}${timeZone === undefined ? ' UTC' : ''}.`;
  if (offsetS === null || uncertaintyS === null)
    return `Whether its clock is right can’t be told yet: it takes ten minutes of messages that come at once.${jumped}`;
  const off =
    state === 'right'
      ? 'Its clock is right to within a minute'
      : `Its clock is some ${durationWords(offsetS * 1000)} ${state}, ± ${Math.ceil(uncertaintyS)} s`;
  const aDay = ((driftPpm ?? 0) * SECONDS_A_DAY) / 1e6;
  const drift =
    Math.abs(aDay) < DRIFT_TOLD_S_A_DAY
      ? ''
      : ` and ${aDay > 0 ? 'gains' : 'loses'} ${Math.abs(aDay).toFixed(1)} s a day`;
  const shifted = state === 'right' ? '' : ' Stored times stay as they were sent; set the clock on the device.';
  // Arrival shows both alike, so a right clock must not be set wrong on the strength of this sentence.
  const orLate =
    state === 'behind'
      ? ` Or all it sends comes ${durationWords(offsetS * 1000)} late, which looks the same: read the device’s clock before setting it.`
      : '';
  return `${off}${drift}.${shifted}${orLate}${jumped}`;
}
