import type { Evidence, SagComparison, SagSummary } from '../findings.ts';
import { FIRM_P } from '../supply/days-to-firm.ts';
import type { WindowJudgement } from '../supply/sags.ts';
import type { KnownSoFar } from './known-so-far.ts';
import { mayBeDead } from './known-so-far.ts';
import { bar, chanceInWords, dayInWords, figure, inWords, windowsInWords } from './wording.ts';

type Statement = Evidence['statements'][number];

/**
 * Sags in sentences: the days themselves, certain where every fall lies clear of the least that counts; that days sag in
 * a window oftener than at midday, once that is firm; that weekdays and weekend days differ, once they do.
 */
export function sagStatements(known: KnownSoFar): Statement[] {
  const { found, summaries, comparison, site } = known;
  const doubted = mayBeDead(known);
  const statements: Statement[] = [];
  for (const summary of summaries) {
    if (summary.present === 0) continue;
    const text = summary.present === 1 ? ofOneDay(summary, found.sags) : ofSeveralDays(summary);
    statements.push({
      text: `${text}${inDoubtInWords(summary, site.thresholds.sagMinDepthBar)}`,
      certainty: summary.inDoubt === 0 && !doubted ? 'certain' : 'possible',
    });
    const pattern = ofPattern(summary, site.thresholds.sagMinDepthBar);
    if (pattern) statements.push({ text: pattern, certainty: doubted ? 'possible' : 'certain' });
  }
  for (const one of comparison) {
    if (one.differ)
      statements.push({ text: ofDifference(one, summaries), certainty: doubted ? 'possible' : 'certain' });
  }
  return statements;
}

/** One day is told as the day that it was, never as what is usual. */
function ofOneDay(summary: SagSummary, sags: readonly WindowJudgement[]): string {
  const { window, days, judged } = summary;
  const sag = sags.find((w) => w.state === 'present' && w.window === window && w.weekday >= 6 === (days === 'weekend'));
  const only =
    judged === 1
      ? `the one ${windowsInWords(summary, 1)} judged so far`
      : `the only one of ${inWords(judged)} ${windowsInWords(summary, judged)} judged`;
  return `On ${dayInWords(sag!.day)} the street’s pressure sagged in the ${window}, from ${summary.usualStartLocal}${sag!.recovered === false ? ', not recovered by' : ' to'} ${summary.usualEndLocal}, by ${bar(summary.medianDepthBar ?? 0)}: ${only}.`;
}

function ofSeveralDays(summary: SagSummary): string {
  const [least, most] = (summary.depthRangeBar ?? [0, 0]).map((value) => figure(value));
  const range = least === most ? '' : ` (${least} to ${most})`;
  return `On ${inWords(summary.present)} of ${inWords(summary.judged)} ${windowsInWords(summary, summary.judged)} the street’s pressure sagged, usually from ${summary.usualStartLocal} to ${summary.usualEndLocal}, by ${bar(summary.medianDepthBar ?? 0)}${range}.`;
}

function inDoubtInWords({ inDoubt }: SagSummary, minDepthBar: number): string {
  if (inDoubt === 0) return '';
  return ` On ${inWords(inDoubt)} of the days judged the fall is too near to ${bar(minDepthBar)} to say surely whether it reaches it.`;
}

function ofPattern(summary: SagSummary, minDepthBar: number): string | undefined {
  const { chance, window } = summary;
  if (!chance || chance.p >= FIRM_P) return undefined;
  const kind = summary.days === 'weekdays' ? 'Weekday' : 'Weekend';
  return `${kind} ${window}s sag oftener than midday (11:00 to 17:00) of the same days: ${inWords(chance.onlyHere)} fell by ${bar(minDepthBar)} or more in the ${window} only, ${inWords(chance.onlyMidday)} at midday only. Were both alike, chance alone would give that ${chanceInWords(chance.p)} of the time (McNemar’s exact test).`;
}

function ofDifference(one: SagComparison, summaries: readonly SagSummary[]): string {
  return `Weekdays and weekend days differ in the ${one.window}: ${sharesInWords(one, summaries)} sagged. Were all days alike, chance alone would give so great a difference ${chanceInWords(one.p)} of the time (Fisher’s exact test).`;
}

/** `five of five weekdays and none of two weekend days` */
export function sharesInWords(one: SagComparison, summaries: readonly SagSummary[]): string {
  const share = (days: SagSummary['days']) => {
    const { present, judged } = summaries.find((s) => s.window === one.window && s.days === days)!;
    const day = days === 'weekdays' ? 'weekday' : 'weekend day';
    return `${inWords(present)} of ${inWords(judged)} ${day}${judged === 1 ? '' : 's'}`;
  };
  return `${share('weekdays')} and ${share('weekend')}`;
}
