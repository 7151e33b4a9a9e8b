import type { ClockState } from '../../collector/clocks/clock-book.ts';
import type { ClockJump } from '../../collector/clocks/clock-record.ts';
import type { ClockEstimate } from '../../collector/clocks/estimate-clock.ts';
import { durationWords } from '../../collector/model/duration-words.ts';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { EpochMs } from '../../collector/model/units.ts';

/** An offset below a minute moves no finding to another time of day that people would name. */
const TOLD_FROM_MS = 60_000;
/** A jump is news for a day. */
const JUMP_TOLD_FOR_MS = 86_400_000;
/** A clock that shows local time as UTC is off by the zone's own offset, give or take. */
const ZONE_WITHIN_MS = 90_000;

/** An offset that is more than its uncertainty and long enough to be told. */
export function isWrong(estimate: ClockEstimate | undefined): estimate is ClockEstimate {
  return estimate !== undefined && Math.abs(estimate.offsetMs) >= Math.max(TOLD_FROM_MS, estimate.uncertaintyMs);
}

/** What is to be said of a logger's clock, in one clause without a full stop; undefined where it is well or unknown. */
export function clockWords(state: ClockState, nowMs: EpochMs, zoneOffsetMs: number | undefined): string | undefined {
  const jump = state.jumps.at(-1);
  const parts: string[] = [];
  if (jump && nowMs - jump.atMs < JUMP_TOLD_FOR_MS) parts.push(`its clock ${jumpWords(jump)}`);
  if (isWrong(state.estimate)) {
    const { offsetMs } = state.estimate;
    const local =
      zoneOffsetMs !== undefined && zoneOffsetMs !== 0 && Math.abs(offsetMs - zoneOffsetMs) < ZONE_WITHIN_MS;
    parts.push(
      `${parts.length > 0 ? 'it' : 'its clock'} is some ${durationWords(offsetMs)} ${offsetMs > 0 ? 'ahead' : 'behind'}${local ? ', as if it sent local time for UTC' : ''}`,
    );
  } else if (jump && parts.length > 0 && state.estimate) parts.push('it is right now');
  return parts.length === 0 ? undefined : parts.join('; ');
}

function jumpWords({ atMs, byMs }: ClockJump): string {
  return `jumped ${byMs > 0 ? 'ahead' : 'back'} by ${durationWords(byMs)} at ${formatRfc3339(Math.floor(atMs / 1000) * 1000)}`;
}
