import { localDate } from '../../../collector/model/local-time.ts';
import type { AnalysisSite, Evidence, SagSummary } from '../findings.ts';
import { quantile } from '../statistics/quantile.ts';
import { FIRM_P } from '../supply/days-to-firm.ts';
import type { LowPeriod } from '../supply/low-supply.ts';
import type { SupplyFindings } from '../supply/supply-findings.ts';
import type { SensorBudget } from '../uncertainty/sensor-budget.ts';
import { type NearThreshold, nearThreshold } from './sensor-question.ts';
import {
  bar,
  chanceInWords,
  duration,
  figure,
  inWords,
  localClock,
  localMoment,
  plural,
  plusMinusBar,
  sentence,
  windowsInWords,
} from './wording.ts';

type Statement = Evidence['statements'][number];

const NOT_COUNTED = 'The household’s own draws are not counted.';
/** Between this many hours a low period is a morning's: for the sentence only. */
const MORNING_HOURS = [4, 12] as const;

/** What the supply side found, in plain sentences, each with its certainty. */
export function supplyStatements(
  found: SupplyFindings,
  summaries: readonly SagSummary[],
  site: AnalysisSite,
  budget: SensorBudget,
): Statement[] {
  const statements: Statement[] = [];
  statements.push(...lowStatements(found, site, nearThreshold(found, budget)));
  for (const summary of summaries) {
    const statement = sagStatement(summary);
    if (statement) statements.push(statement);
  }
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
    statements.push({
      text: `With nobody drawing, the supply stood at ${bar(level)} for half of the time (${plusMinusBar(budget.expandedBar)} for the sensor, k = 2).`,
      certainty: 'certain',
    });
  }
  return statements;
}

function lowStatements(found: SupplyFindings, site: AnalysisSite, near: NearThreshold): Statement[] {
  const { lowSupply } = found;
  const threshold = bar(site.thresholds.lowSupplyBar);
  if (lowSupply.length === 0) {
    return [
      {
        text: `The supply was not seen below ${threshold} for a minute or more. ${NOT_COUNTED}`,
        certainty: near.within ? 'possible' : 'certain',
      },
    ];
  }
  const statements: Statement[] = [];
  const mornings = repeated(found, site);
  if (mornings) statements.push(mornings);
  const total = lowSupply.reduce((sum, p) => sum + p.endMs - p.startMs, 0);
  const certain = lowSupply.filter((p) => p.certain);
  const lowest = lowSupply.reduce((a, b) => (b.minBar < a.minBar ? b : a));
  statements.push({
    text: `${sentence(plural(lowSupply.length, 'period'))} below ${threshold}, ${duration(total)} in all; ${inWords(certain.length)} of them surely, with the sensor’s uncertainty allowed for. The lowest was ${bar(lowest.minBar)} on ${localMoment(lowest.startMs, site.timeZone)}. ${NOT_COUNTED}`,
    certainty: certain.length > 0 ? 'certain' : 'possible',
  });
  const qualifying = lowSupply.filter((p) => p.qualifying);
  if (qualifying.length > 0) {
    const sure = qualifying.filter((p) => p.certainForQualifying).length;
    statements.push({
      text: `${sentence(plural(qualifying.length, 'period'))} of an hour or more below ${threshold}, ${inWords(sure)} surely for the whole hour.`,
      certainty: sure > 0 ? 'certain' : 'possible',
    });
  }
  return statements;
}

/** "On five of seven weekday mornings …", where low periods come back in the morning. */
function repeated(found: SupplyFindings, site: AnalysisSite): Statement | undefined {
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
    const rounded = Math.round(value / 5) * 5;
    return `${String(Math.floor(rounded / 60)).padStart(2, '0')}:${String(rounded % 60).padStart(2, '0')}`;
  };
  const starts = [...days.values()].map((periods) => minute(periods[0]!.startMs));
  const ends = [...days.values()].map((periods) => minute(periods.at(-1)!.endMs));
  const certain = [...days.values()].filter((periods) => periods.some((p) => p.certain)).length;
  return {
    text: `On ${inWords(days.size)} of ${inWords(judged.length)} weekday mornings the street’s pressure fell below ${bar(site.thresholds.lowSupplyBar)}, usually from ${clock(quantile(starts, 0.5))} to ${clock(quantile(ends, 0.5))}. ${NOT_COUNTED}`,
    certainty: certain === days.size ? 'certain' : 'possible',
  };
}

function sagStatement(summary: SagSummary): Statement | undefined {
  if (summary.present === 0 || summary.judged === 0) return undefined;
  const [least, most] = summary.depthRangeBar ?? [0, 0];
  const windows = windowsInWords(summary);
  const chance = summary.chance ? ` Chance of this if the hours were alike: ${chanceInWords(summary.chance.p)}.` : '';
  const on =
    summary.judged === 1
      ? `On the one ${windows.replace(/s$/, '')} judged so far`
      : `On ${inWords(summary.present)} of ${inWords(summary.judged)} ${windows}`;
  const times = `${summary.present === 1 ? '' : 'usually '}from ${summary.usualStartLocal} to ${summary.usualEndLocal}`;
  const range = summary.present === 1 ? '' : ` (${figure(least)} to ${figure(most)})`;
  return {
    text: `${on} the street’s pressure sagged, ${times}, by ${bar(summary.medianDepthBar ?? 0)}${range}.${chance}`,
    certainty: summary.chance && summary.chance.p < FIRM_P ? 'certain' : 'possible',
  };
}
