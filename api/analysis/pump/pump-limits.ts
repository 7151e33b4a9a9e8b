/** Up to this interval a pressure alone shows single starts of a household's pump. */
export const STARTS_SHOWN_S = 10;
/** Up to this interval starts 15 s apart can be told from one another. */
const RAPID_SHOWN_S = 5;

/** What the log's rate and channels could not show, in words. */
export function pumpLimits(applies: boolean, hasChannel: boolean, seconds: number): string[] {
  if (!applies) return [];
  const every = `${Math.round(seconds)} s`;
  const limits: string[] = [];
  if (seconds > RAPID_SHOWN_S) {
    const days =
      seconds <= STARTS_SHOWN_S * 1.5
        ? ' Days of rapid cycling are told by how the readings jump to and fro, not start by start.'
        : '';
    limits.push(
      `At a reading every ${every}, starts less than ${Math.round(2 * seconds)} s apart can’t be told apart.${days}`,
    );
  }
  if (seconds > STARTS_SHOWN_S * 1.5) {
    limits.push(
      hasChannel
        ? `At a reading every ${every}, runs shorter than that are missed, and whether a start was on demand isn’t told.`
        : `At a reading every ${every}, only starts with minutes between them show in the pressure; short cycles, and ` +
            'whether a start was on demand, don’t.',
    );
  }
  if (!hasChannel) {
    limits.push(
      'Without a channel that tells when the pump runs, a pump that doesn’t start and one that turns without lifting ' +
        'look alike, and one that doesn’t stop doesn’t show; nor does how long it spins up.',
    );
  }
  return limits;
}
