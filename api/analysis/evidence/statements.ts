import { localDate } from '../../../collector/model/local-time.ts';
import { plusMinusBar } from '../../../collector/model/uncertainty-words.ts';
import type { Evidence } from '../findings.ts';
import { quantile } from '../statistics/quantile.ts';
import { LEAST_LOW_MS, type LowPeriod } from '../supply/low-supply.ts';
import { COVERAGE_FACTOR } from '../uncertainty/combine.ts';
import { isThin, type KnownSoFar, knownTime, mayBeDead } from './known-so-far.ts';
import { sagStatements } from './sag-statements.ts';
import { nearThreshold } from './sensor-question.ts';
import { bar, duration, inWords, localClock, localMoment, plural, sentence } from './wording.ts';

type Statement = Evidence['statements'][number];

/** To the nearest whole per cent. */
const WHOLLY_SEEN = 0.995;
const NOT_COUNTED = 'The household’s own draws are not counted.';
/** Fewer readings than a draw needs to be told from the street show no level of the supply. */
const FEWEST_ROWS = 3;
/** Between this many hours a low period is a morning's: for the sentence only. */
const MORNING_HOURS = [4, 12] as const;

/** What the supply side found, in plain sentences, each with its certainty. */
export function supplyStatements(known: KnownSoFar): Statement[] {
  const { found, site, budget } = known;
  const statements: Statement[] = [...lowStatements(known), ...sagStatements(known)];
  for (const change of found.supplyChanges) {
    statements.push({
      text: `The standing pressure changed for good on ${localMoment(change.atMs, site.timeZone)}, from ${bar(change.fromBar)} to ${bar(change.toBar)}.`,
      certainty: 'certain',
    });
  }
  if (found.propertyChange) {
    const { atMs, fromBar, toBar } = found.propertyChange;
    statements.push({
      text: `While water is drawn the pressure changed about ${localMoment(atMs, site.timeZone)}, from ${bar(fromBar)} to ${bar(toBar)}, though the standing pressure did not: a stop tap, a strainer or a pipe of the property, not the street.`,
      certainty: 'possible',
    });
  }
  for (const step of found.offsetSteps) {
    statements.push({
      text: `The sensor’s zero stepped by ${bar(step.stepBar)} on ${localMoment(step.atMs, site.timeZone)}, faster than a street can change. Later readings were brought back to the earlier zero.`,
      certainty: 'possible',
    });
  }
  const level = quantile(found.standing.bar, 0.5);
  if (Number.isFinite(level)) {
    const { words } = knownTime(known);
    statements.push({
      text: `With nobody drawing, the supply stood at ${bar(level)} for half of ${words ?? 'the time'} (${plusMinusBar(COVERAGE_FACTOR * budget.sharedBar)} for the sensor, k = 2).`,
      certainty: mayBeDead(known) || isThin(known) ? 'possible' : 'certain',
    });
  }
  return statements;
}

function lowStatements(known: KnownSoFar): Statement[] {
  const { found, site } = known;
  const { lowSupply } = found;
  if (lowSupply.length === 0) return [notSeenLow(known)];
  const threshold = bar(site.thresholds.lowSupplyBar);
  const { words } = knownTime(known);
  const doubted = mayBeDead(known);
  const statements: Statement[] = [];
  const mornings = repeated(known, doubted);
  if (mornings) statements.push(mornings);
  const total = lowSupply.reduce((sum, p) => sum + p.endMs - p.startMs, 0);
  const certain = lowSupply.filter((p) => p.certain);
  const lowest = lowSupply.reduce((a, b) => (b.minBar < a.minBar ? b : a));
  const lasting = lowSupply.length === 1 ? `of ${duration(total)}` : `${duration(total)} in all`;
  statements.push({
    text: `${sentence(plural(lowSupply.length, 'period'))} below ${threshold}, ${lasting}${words ? `, in ${words}` : ''}; ${surely(certain.length, lowSupply.length)}, with the sensor’s uncertainty allowed for. The lowest was ${bar(lowest.minBar)} on ${localMoment(lowest.lowestMs, site.timeZone)}.${seenInWords(lowSupply)} ${NOT_COUNTED}`,
    certainty: certain.length > 0 && !doubted ? 'certain' : 'possible',
  });
  const qualifying = lowSupply.filter((p) => p.qualifying);
  if (qualifying.length > 0) {
    const sure = qualifying.filter((p) => p.certainForQualifying).length;
    statements.push({
      text: `${sentence(plural(qualifying.length, 'period'))} of an hour or more below ${threshold}, ${surely(sure, qualifying.length)} for the whole hour.`,
      certainty: sure > 0 && !doubted ? 'certain' : 'possible',
    });
  }
  return statements;
}

/** No period was found: in the time that is known, by the falls that this rate can show; nothing where that is too little. */
function notSeenLow(known: KnownSoFar): Statement {
  const { found, site, budget, intervalS } = known;
  const threshold = bar(site.thresholds.lowSupplyBar);
  const { knownMs, words } = knownTime(known);
  const slow = intervalS * 1000 > LEAST_LOW_MS;
  const shortestMs = slow ? 1000 * found.floor.durationS : LEAST_LOW_MS;
  const shortest = slow ? duration(shortestMs) : 'a minute';
  const leastKnownMs = Math.max(shortestMs, FEWEST_ROWS * intervalS * 1000);
  if (knownMs < leastKnownMs) {
    return {
      text: `Whether the supply falls below ${threshold} can’t be told yet: less than ${leastKnownMs === LEAST_LOW_MS ? 'a minute' : duration(leastKnownMs)} of it is known.`,
      certainty: 'unknown',
    };
  }
  const unseen = slow ? ` Shorter falls can’t be told at one reading in ${duration(1000 * intervalS)}.` : '';
  const during = words ? `In ${words} the` : 'The';
  const doubted = nearThreshold(found, budget).within || mayBeDead(known) || isThin(known);
  return {
    text: `${during} supply was not seen below ${threshold} for ${shortest} or more.${unseen} ${NOT_COUNTED}`,
    certainty: doubted ? 'possible' : 'certain',
  };
}

function surely(count: number, of: number): string {
  if (count === 0) return of === 1 ? 'not surely' : 'none of them surely';
  return count === of ? (of === 1 ? 'surely' : 'all of them surely') : `${inWords(count)} of them surely`;
}

/** Whether all of it was seen with nobody drawing, else how much; empty where it was. */
function seenInWords(periods: readonly LowPeriod[]): string {
  const ms = (of: (period: LowPeriod) => number) =>
    periods.reduce((sum, period) => sum + (period.endMs - period.startMs) * of(period), 0);
  const share =
    ms((period) => period.seenFraction) /
    Math.max(
      1,
      ms(() => 1),
    );
  if (share >= WHOLLY_SEEN) return '';
  const none = periods.filter((period) => period.seenFraction === 0).length;
  const unseen = none === 0 ? '' : `, ${none === periods.length ? 'all' : inWords(none)} of the periods wholly so`;
  return ` ${Math.round(100 * share)} % of it was seen with nobody drawing; the rest was worked out through draws${unseen}.`;
}

/** "On five of seven weekday mornings …", where low periods come back in the morning. */
function repeated({ found, site }: KnownSoFar, doubted: boolean): Statement | undefined {
  const judged = found.sags.filter((w) => w.window === 'morning' && w.weekday < 6 && w.state !== 'unknown');
  const days = new Map<string, LowPeriod[]>();
  for (const period of found.lowSupply) {
    const hour = Number(localClock(period.startMs, site.timeZone).slice(0, 2));
    if (hour < MORNING_HOURS[0] || hour >= MORNING_HOURS[1]) continue;
    const day = localDate(period.startMs, site.timeZone);
    if (judged.some((w) => w.day === day)) days.set(day, [...(days.get(day) ?? []), period]);
  }
  if (days.size < 2) return undefined;
  const minute = (atMs: number) => {
    const [h, m] = localClock(atMs, site.timeZone).split(':').map(Number);
    return h! * 60 + m!;
  };
  const clock = (value: number) => {
    const rounded = (Math.round(value / 5) * 5) % 1440;
    return `${String(Math.floor(rounded / 60)).padStart(2, '0')}:${String(rounded % 60).padStart(2, '0')}`;
  };
  const starts = [...days.values()].map((periods) => minute(periods[0]!.startMs));
  // Minutes from the day's own midnight: an end after the next one lies behind those before it.
  const ends = [...days.values()].map(
    (periods) => minute(periods[0]!.startMs) + (periods.at(-1)!.endMs - periods[0]!.startMs) / 60_000,
  );
  const certain = [...days.values()].filter((periods) => periods.some((p) => p.certain)).length;
  return {
    text: `On ${inWords(days.size)} of ${inWords(judged.length)} weekday mornings the street’s pressure fell below ${bar(site.thresholds.lowSupplyBar)}, usually from ${clock(quantile(starts, 0.5))} to ${clock(quantile(ends, 0.5))}. ${NOT_COUNTED}`,
    certainty: certain === days.size && !doubted ? 'certain' : 'possible',
  };
}
