import type { Evidence, SagComparison, SagSummary } from '../findings.ts';
import { MEAN_MS } from '../supply/judge-window.ts';
import { MIDDAY_HOURS } from '../supply/sags.ts';
import { calendarDays } from './days-to-wait.ts';
import type { KnownSoFar } from './known-so-far.ts';
import { sharesInWords } from './sag-statements.ts';
import { sensorQuestion } from './sensor-question.ts';
import { bar, chanceInWords, duration, inWords, localMoment, plural, sentence, windowsInWords } from './wording.ts';

const HOUR_MS = 3_600_000;
/** A window is judged against the night before it, which begins so long before the morning's, and takes six hours. */
const NIGHT_BEFORE_MS = 4 * HOUR_MS;
const WINDOW_MS = 6 * HOUR_MS;
const SUNDAY = 7;
const MIDDAY_WORDS = `midday (${MIDDAY_HOURS[0]}:00 to ${MIDDAY_HOURS[1]}:00)`;

/** What is open, what would settle it, and how many more calendar days settle what days can. */
export interface OpenQuestions {
  readonly open: readonly string[];
  readonly moreDays: number;
  readonly logging: NonNullable<Evidence['logging']>;
}

export function openQuestions(known: KnownSoFar): OpenQuestions {
  const { found, summaries, comparison, budget, site, intervalS, unmoved } = known;
  const open: string[] = [];
  if (unmoved) {
    open.push(
      `The reading stayed at exactly ${bar(unmoved.bar)} for ${duration(unmoved.endMs - unmoved.startMs)}, from ${localMoment(unmoved.startMs, site.timeZone)}: a dead sensor can’t be ruled out. Open a tap and look whether the reading moves.`,
    );
  }
  const sensor = sensorQuestion(found, budget, site);
  if (sensor) open.push(sentence(sensor));
  if (budget.assumed) {
    open.push('The transducer’s accuracy is not stated; 1 % of its range was assumed. Enter the data sheet’s figure.');
  }
  const windows = windowsSeen(known);
  const days = windows.beyondRate ? NO_DAYS : dayQuestions(summaries, comparison, found.sags.at(-1)?.weekday ?? SUNDAY);
  open.push(...days.open);
  if (windows.beyondRate) {
    open.push(
      `Whether the street sags can’t be told at one reading in ${duration(intervalS * 1000)}: let the logger read at least every ${duration(MEAN_MS)}, better every minute or faster.`,
    );
  } else if (windows.unknown > 0) {
    open.push(
      `For ${plural(windows.unknown, 'morning or evening', 'mornings or evenings')} it can’t be told whether the street sagged: too few readings of those hours, or of the night before, can be used.`,
    );
  }
  if (found.offsetSteps.length > 0) {
    open.push('The sensor’s zero stepped: check it at atmospheric pressure and against a gauge.');
  }
  if (found.propertyChange) {
    open.push('Check that the stop tap is fully open and the strainer clean, then compare the running pressure again.');
  }
  if (found.lowSupply.length > 0 || summaries.some((summary) => summary.present > 0)) {
    open.push(
      'Whether the loss is in the street or in a shared service pipe can’t be told from one logger: a reading at a neighbour’s or at the boundary at the same hour would.',
    );
  }
  return { open, moreDays: days.moreDays, logging: loggingWords(open.length, days, windows) };
}

interface WindowsSeen {
  readonly judged: number;
  /** Of those that the log held whole, with the night before. */
  readonly unknown: number;
  readonly beyondRate: boolean;
}

function windowsSeen({ found: { sags }, span }: KnownSoFar): WindowsSeen {
  return {
    judged: sags.filter((window) => window.state !== 'unknown').length,
    unknown: sags.filter((window) => window.state === 'unknown' && wasLogged(window.windowStartMs, span)).length,
    beyondRate: sags.some((window) => window.beyondRate),
  };
}

interface DayQuestions {
  readonly open: readonly string[];
  readonly moreDays: number;
  /** Some question that days alone won't settle within four weeks. */
  readonly hardly: boolean;
}

const NO_DAYS: DayQuestions = { open: [], moreDays: 0, hardly: false };

function dayQuestions(
  summaries: readonly SagSummary[],
  comparison: readonly SagComparison[],
  lastWeekday: number,
): DayQuestions {
  const open: string[] = [];
  let moreDays = 0;
  let hardly = false;
  const absent: { summary: SagSummary; wait: number | null }[] = [];
  for (const summary of summaries) {
    if (summary.daysToFirm === 0) continue;
    // A weekend without sags is told with its count: three weeks of logging for it would be asked of every house.
    if (summary.present === 0 && summary.days === 'weekend') continue;
    const wait = calendarDays(summary, lastWeekday);
    if (wait === null) hardly = true;
    else moreDays = Math.max(moreDays, wait);
    if (summary.present === 0) absent.push({ summary, wait });
    else open.push(summary.present === 1 ? oneDay(summary, wait) : seldomSeen(summary, wait));
  }
  for (const one of comparison) {
    if (one.differ) continue;
    if (one.weeksToTell === null) hardly = true;
    else moreDays = Math.max(moreDays, 7 * one.weeksToTell);
    open.push(weekendUntold(one, summaries));
  }
  open.push(...notSeen(absent));
  return { open, moreDays, hardly };
}

/** One sagging day: no pattern yet. */
function oneDay(summary: SagSummary, wait: number | null): string {
  const { judged, daysToFirm } = summary;
  const seen =
    judged === 1
      ? `The one ${windowsInWords(summary, 1)} judged so far sagged`
      : `One of ${inWords(judged)} ${windowsInWords(summary, judged)} sagged`;
  if (wait === null || daysToFirm === null)
    return `${seen}: one day is no pattern, and four more weeks like these will hardly tell one from chance.`;
  return `${seen}: one day is no pattern. ${sentence(moreOfTheKind(summary, daysToFirm))} like ${judged === 1 ? 'it' : 'these'} would tell one from chance, ${within(wait)}.`;
}

/** Sags were seen, too seldom beside what midday does to rule out chance. */
function seldomSeen(summary: SagSummary, wait: number | null): string {
  const { present, judged, chance, daysToFirm, window } = summary;
  const seen = `${sentence(inWords(present))} of ${inWords(judged)} ${windowsInWords(summary, judged)} sagged`;
  const odds = chance
    ? `; ${inWords(chance.onlyHere)} fell so far in the ${window} only and ${inWords(chance.onlyMidday)} at ${MIDDAY_WORDS} only, which chance alone gives ${chanceInWords(chance.p)} of the time (McNemar’s exact test)`
    : `; what ${MIDDAY_WORDS} of these days did isn’t known`;
  if (wait === null || daysToFirm === null)
    return `${seen}${odds}: logging alone will hardly settle whether that is chance, since four more weeks like these would not.`;
  return `${seen}${odds}: ${moreOfTheKind(summary, daysToFirm)} like these ${daysToFirm === 1 ? 'gives' : 'give'} a firm statement, ${within(wait)}.`;
}

function within(days: number): string {
  return days === 1 ? 'by one day of logging' : `within ${inWords(days)} days of logging`;
}

function weekendUntold(one: SagComparison, summaries: readonly SagSummary[]): string {
  const { weeksToTell } = one;
  const remedy =
    weeksToTell === null
      ? 'four more weeks like these will hardly tell either'
      : `${plural(weeksToTell, 'more week')} like these would tell`;
  return `Whether weekdays and weekend days differ in the ${one.window} can’t be told: ${sharesInWords(one, summaries)} sagged, and were all days alike, chance alone would give so great a difference ${chanceInWords(one.p)} of the time (Fisher’s exact test); ${remedy}.`;
}

/** No sag was seen, on too few weekdays to say that it is seldom. Both windows are told at once where they agree. */
function notSeen(absent: readonly { summary: SagSummary; wait: number | null }[]): string[] {
  const [one, other] = absent;
  if (!one) return [];
  const alike = other && other.summary.judged === one.summary.judged && other.wait === one.wait;
  const told = alike ? [one] : absent;
  return told.map(({ summary, wait }) => {
    const { judged } = summary;
    const windows = alike
      ? judged === 1 || judged === 0
        ? `weekday morning ${judged === 1 ? 'and' : 'or'} evening`
        : 'weekday mornings and evenings'
      : windowsInWords(summary, Math.max(1, judged));
    const sofar =
      judged === 0 ? `No ${windows} could be judged yet` : `No sag was seen, with ${inWords(judged)} ${windows} judged`;
    return wait === null || summary.daysToFirm === null
      ? `${sofar}: too little of them is known, and more days of the same kind will hardly change that.`
      : `${sofar}: ${moreOfTheKind(summary, summary.daysToFirm)} without one ${summary.daysToFirm === 1 ? 'tells' : 'tell'} that the street sags on fewer than half of them, within ${plural(wait, 'day')} of logging.`;
  });
}

function moreOfTheKind({ days }: SagSummary, count: number): string {
  return days === 'weekdays' ? plural(count, 'more weekday') : plural(count, 'more weekend day');
}

/** Whether the log held the whole window and the night before it. */
function wasLogged(
  windowStartMs: number,
  { startMs, endMs }: { readonly startMs: number; readonly endMs: number },
): boolean {
  return windowStartMs - NIGHT_BEFORE_MS >= startMs && windowStartMs + WINDOW_MS <= endMs;
}

function loggingWords(
  open: number,
  { moreDays, hardly }: DayQuestions,
  { judged, unknown, beyondRate }: WindowsSeen,
): NonNullable<Evidence['logging']> {
  if (beyondRate)
    return { longEnough: false, text: 'More days at this rate would not settle whether the street sags.' };
  if (moreDays > 0) {
    const rest = hardly ? ' Something else is open that more days will hardly settle.' : '';
    return {
      longEnough: false,
      text: `${sentence(plural(moreDays, 'more day'))} of logging would settle what days can settle.${rest}`,
    };
  }
  const told = `${inWords(judged)} of ${plural(judged + unknown, 'morning or evening', 'mornings and evenings')} could be judged`;
  if (unknown > 0 && unknown >= judged) {
    return {
      longEnough: false,
      text: `More days like these would settle little: ${told}. See first that readings come and can be used.`,
    };
  }
  if (unknown > 0)
    return { longEnough: true, text: `What days can settle is settled by what could be judged: ${told}.` };
  if (hardly) return { longEnough: true, text: 'The log is long enough: more days would hardly settle what is open.' };
  if (open === 0) return { longEnough: true, text: 'The log is long enough: nothing is left open.' };
  return { longEnough: true, text: 'The log is long enough: what is open asks for something else than more days.' };
}
