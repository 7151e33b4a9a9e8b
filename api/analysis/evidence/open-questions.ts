import type { AnalysisSite, Evidence, SagSummary } from '../findings.ts';
import type { SupplyFindings } from '../supply/supply-findings.ts';
import type { SensorBudget } from '../uncertainty/sensor-budget.ts';
import { calendarDays } from './days-to-wait.ts';
import { sensorQuestion } from './sensor-question.ts';
import { chanceInWords, inWords, plural, sentence, windowsInWords } from './wording.ts';

const HOUR_MS = 3_600_000;
/** A window is judged against the night before it, which begins so long before the morning's, and takes six hours. */
const NIGHT_BEFORE_MS = 4 * HOUR_MS;
const WINDOW_MS = 6 * HOUR_MS;
const SUNDAY = 7;

/** What is open, what would settle it, and how many more calendar days settle what days can. */
export interface OpenQuestions {
  readonly open: readonly string[];
  readonly moreDays: number;
  readonly logging: NonNullable<Evidence['logging']>;
}

export function openQuestions(
  found: SupplyFindings,
  summaries: readonly SagSummary[],
  budget: SensorBudget,
  site: AnalysisSite,
  span: { readonly startMs: number; readonly endMs: number },
): OpenQuestions {
  const open: string[] = [];
  const sensor = sensorQuestion(found, budget, site);
  if (sensor) open.push(sentence(sensor));
  if (budget.assumed) {
    open.push('The transducer’s accuracy is not stated; 1 % of its range was assumed. Enter the data sheet’s figure.');
  }
  const days = dayQuestions(summaries, found.sags.at(-1)?.weekday ?? SUNDAY);
  open.push(...days.open);
  const unknown = found.sags.filter((window) => window.state === 'unknown' && wasLogged(window.windowStartMs, span));
  if (unknown.length > 0)
    open.push(
      `For ${plural(unknown.length, 'morning or evening', 'mornings or evenings')} it can’t be told whether the street sagged.`,
    );
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
  return { open, moreDays: days.moreDays, logging: loggingWords(open.length, days) };
}

interface DayQuestions {
  readonly open: readonly string[];
  readonly moreDays: number;
  /** Some question that days alone won't settle within four weeks. */
  readonly hardly: boolean;
}

function dayQuestions(summaries: readonly SagSummary[], lastWeekday: number): DayQuestions {
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
    else open.push(seldomSeen(summary, wait));
  }
  open.push(...notSeen(absent));
  return { open, moreDays, hardly };
}

/** Sags were seen, too seldom to rule out chance. */
function seldomSeen(summary: SagSummary, wait: number | null): string {
  const { present, judged, chance, daysToFirm } = summary;
  const seen = `${sentence(inWords(present))} of ${inWords(judged)} ${windowsInWords(summary)} sagged`;
  const odds = chance ? `, which chance alone gives ${chanceInWords(chance.p)} of the time` : '';
  if (wait === null || daysToFirm === null)
    return `${seen}${odds}: logging alone will hardly settle whether that is chance, since four more weeks like these would not.`;
  return `${seen}${odds}: ${moreOfTheKind(summary, daysToFirm)} like ${judged === 1 ? 'it' : 'these'} ${daysToFirm === 1 ? 'gives' : 'give'} a firm statement, ${wait === 1 ? 'by one day' : `within ${inWords(wait)} days`} of logging.`;
}

/** No sag was seen, on too few weekdays to say that it is seldom. Both windows are told at once where they agree. */
function notSeen(absent: readonly { summary: SagSummary; wait: number | null }[]): string[] {
  const [one, other] = absent;
  if (!one) return [];
  const alike = other && other.summary.judged === one.summary.judged && other.wait === one.wait;
  const told = alike ? [one] : absent;
  return told.map(({ summary, wait }) => {
    const windows = alike ? 'weekday morning or evening' : windowsInWords(summary).replace(/s$/, '');
    const sofar =
      summary.judged === 0
        ? `No ${windows} could be judged yet`
        : `No sag was seen, with ${inWords(summary.judged)} weekday ${alike ? 'mornings and evenings' : `${summary.window}s`} judged`;
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

function loggingWords(open: number, { moreDays, hardly }: DayQuestions): NonNullable<Evidence['logging']> {
  if (moreDays > 0) {
    const rest = hardly ? ' Something else is open that more days will hardly settle.' : '';
    return {
      longEnough: false,
      text: `${sentence(plural(moreDays, 'more day'))} of logging would settle what days can settle.${rest}`,
    };
  }
  if (open === 0) return { longEnough: true, text: 'The log is long enough: nothing is left open.' };
  return { longEnough: true, text: 'The log is long enough: what is open asks for something else than more days.' };
}
