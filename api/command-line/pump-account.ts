import { localDate, localText } from '../../collector/model/local-time.ts';
import type {
  Cycling,
  CyclingCause,
  FindingsDocument,
  PumpState,
  PumpStateKind,
  PumpTrend,
} from '../analysis/findings.ts';
import { hourSpan } from '../analysis/pump/pull-words.ts';
import { stepsOnce } from '../analysis/pump/steps-once.ts';
import { median } from '../analysis/statistics/quantile.ts';
import { bar, count, listed } from './account-words.ts';
import { durationText, type LocalFormat } from './local-format.ts';

const CAUSE_WORDS: Record<CyclingCause, string> = {
  leak: 'a leak or a dripping outlet',
  check_valve: 'a check valve that passes',
  lost_precharge: 'lost pre-charge of the vessel',
  narrow_differential: 'a switch that is set too narrow',
};

const KIND_WORDS: Record<Cycling['kind'], string> = {
  no_demand: 'cycling without demand',
  rapid_on_demand: 'rapid cycling on demand',
  normal: 'normal running',
};

const STATE_WORDS: Record<PumpStateKind, string> = {
  runs_on: 'Runs on without reaching its cut-out',
  no_rise: 'Runs without lifting the pressure',
  did_not_start: 'Pressure below cut-in, and no start that lifts it',
  did_not_stop: 'Does not stop',
  too_many_starts: 'More starts in an hour than its limit',
  outside_hours: 'Starts outside its allowed hours',
};

const TREND_WORDS: Record<PumpTrend['figure'], string> = {
  filling: 'How fast it fills its vessel',
  cut_out: 'The cut-out that it reaches',
};

/** Slower rows show no single draws, so that no start is marked. */
const MARKED_UP_TO_S = 15;

/** What the pump did, for a terminal: starts, cycling by day and cause, states, weak inlet; what to do next, once. */
export function pumpAccount(found: FindingsDocument, at: LocalFormat): string[] {
  const lines = [
    ...starts(found),
    ...cycling(found, at),
    ...states(found, at),
    ...trends(found),
    ...curve(found),
    ...weakInlet(found, at),
    ...(found.inletPull ? inletPull(found.inletPull) : []),
  ];
  if (lines.length === 0) return [];
  const steps = stepsOnce(found);
  return ['Pump', ...lines, ...(steps.length > 0 ? ['What to do next', ...steps.map((step) => `- ${step}`)] : [])];
}

function starts({ pumpStarts, series }: FindingsDocument): string[] {
  if (pumpStarts.length === 0) return [];
  const idle = pumpStarts.filter((start) => start.onDemand === false).length;
  const drawn = pumpStarts.filter((start) => start.onDemand === true).length;
  const untold = pumpStarts.length - idle - drawn;
  const marked = [
    ...(idle + drawn > 0 ? [`${idle} of them without the household drawing, ${drawn} while it drew`] : []),
    ...(untold > 0
      ? [`whether the household drew can't be told of ${idle + drawn > 0 ? untold : 'them'}${whyUntold(series)}`]
      : []),
  ];
  const figures = [
    middle(
      'on for',
      ' s',
      pumpStarts.map(({ onS }) => onS),
      0,
    ),
    middle(
      'off before for',
      ' s',
      pumpStarts.map(({ offS }) => offS),
      0,
    ),
    middle(
      'cut-in',
      ' bar',
      pumpStarts.map(({ cutInBar }) => cutInBar),
      2,
    ),
    middle(
      'cut-out',
      ' bar',
      pumpStarts.map(({ cutOutBar }) => cutOutBar),
      2,
    ),
    middle(
      'spin-up',
      ' s',
      pumpStarts.map(({ spinUpS }) => spinUpS),
      1,
    ),
  ].filter((text) => text !== undefined);
  return [
    `${[count(pumpStarts.length, 'start'), ...marked].join('; ')}.`,
    ...(figures.length > 0 ? [`In the middle: ${figures.join(', ')}.`] : []),
  ];
}

/** Why a start is on demand or not can't be said, where rate or position are the reason. */
function whyUntold({ intervalS, position }: FindingsDocument['series']): string {
  if (intervalS !== null && intervalS > MARKED_UP_TO_S)
    return ` at a reading every ${durationText(intervalS)}: a draw and its refill fall between two rows`;
  if (position !== 'pump_outlet')
    return ' by the pressure before a pump: it takes the one after it, or a meter of what the household draws';
  return ': the pressure meanwhile is missing';
}

function middle(
  name: string,
  unit: string,
  values: readonly (number | undefined)[],
  digits: number,
): string | undefined {
  const known = values.filter((value) => value !== undefined);
  return known.length === 0 ? undefined : `${name} ${median(known).toFixed(digits)}${unit}`;
}

/** A line for every day, kind and causes; then for every kind and causes what made the ranking, of its longest episode. */
function cycling(found: FindingsDocument, at: LocalFormat): string[] {
  const { timeZone } = found.series;
  const episodes = found.cycling.filter(({ kind }) => kind !== 'normal');
  const byDay = grouped(episodes, (one) => [localDate(Date.parse(one.start), timeZone), causeKey(one)].join(' '));
  const byCause = grouped(episodes, causeKey);
  return [...listed(byDay, (group) => dayLine(group, found, at)), ...byCause.flatMap((group) => because(group))];
}

function causeKey({ kind, causes }: Cycling): string {
  return [kind, ...causes].join(' ');
}

function dayLine(group: readonly Cycling[], found: FindingsDocument, at: LocalFormat): string {
  const first = group[0]!;
  const points = first.causes.length > 0 ? `; points to ${causeWords(first)}` : '';
  if (group.length === 1)
    return `${at.span(first.start, first.end)}: ${KIND_WORDS[first.kind]}, ${first.startsPerHour.toFixed(1)} starts an hour${points}`;
  const { timeZone } = found.series;
  const day = localDate(Date.parse(first.start), timeZone);
  const worst = found.cyclingDays?.find((one) => one.day === day);
  const total = group.reduce((sum, { starts }) => sum + starts, 0);
  const least = group.some(({ startsAtLeast }) => startsAtLeast) ? 'at least ' : '';
  const clock = (moment: string): string => localText(Date.parse(moment), timeZone, 'HH:mm');
  const hour = worst
    ? `, ${worst.startsAtLeast ? 'at least ' : ''}${worst.mostStartsPerHour} in the day's worst hour`
    : '';
  return (
    `${localText(Date.parse(first.start), timeZone, 'ccc yyyy-LL-dd')}: ${KIND_WORDS[first.kind]}, ${group.length} times ` +
    `between ${clock(first.start)} and ${clock(group.at(-1)!.end)}, ${least}${total} starts${hour}${points}`
  );
}

/** Figures with twice their standard deviations, and the rule, of the episode with the most starts: the others of its kind and causes rest on the like. */
function because(group: readonly Cycling[]): string[] {
  const most = group.reduce((best, one) => (one.starts > best.starts ? one : best));
  const { reasons = [], ranking } = most;
  if (reasons.length === 0 && !ranking) return [];
  const figures = (ranking?.figures ?? []).map(
    ({ name, value, unit, sd, tells }) =>
      `    ${name}: ${threeDigits(value)}${sd === undefined ? '' : ` ± ${threeDigits(2 * sd)}`} ${unit} (${tells})`,
  );
  return [
    `  Why ${causeWords(most) || 'no cause is named'} (the figures of its episode with the most starts):`,
    ...reasons.map((reason) => `    ${reason}`),
    ...figures,
    ...(ranking ? [`    The rule: ${ranking.rule}`] : []),
  ];
}

function threeDigits(value: number): number {
  return Number(value.toPrecision(3));
}

function causeWords({ causes }: Cycling): string {
  return causes.map((cause) => CAUSE_WORDS[cause]).join(', or ');
}

function states({ pumpStates = [] }: FindingsDocument, at: LocalFormat): string[] {
  return grouped(pumpStates, ({ kind }) => kind).flatMap((group) => {
    const { kind, rule } = group[0]!;
    const doubt = group.every(({ certainty }) => certainty === 'possible') ? ' (possible)' : '';
    return [
      `${STATE_WORDS[kind]}${doubt}: ${count(group.length, kind === 'outside_hours' || kind === 'too_many_starts' ? 'spell' : 'time')}.`,
      ...listed(group, (state) => stateLine(state, at)),
      ...(rule ? [`    The rule: ${rule}`] : []),
    ];
  });
}

function stateLine({ start, end, reason }: PumpState, at: LocalFormat): string {
  return `${at.span(start, end)}: ${reason}`;
}

function trends({ pumpTrends = [] }: FindingsDocument): string[] {
  return pumpTrends.map(({ figure, firstDay, lastDay, days, perMonth, p, rule }) => {
    const size = figure === 'filling' ? `${(100 * perMonth).toFixed(0)} % of its median` : `${perMonth.toFixed(2)} bar`;
    const span = firstDay && lastDay ? `, ${firstDay} to ${lastDay}` : '';
    return (
      `${TREND_WORDS[figure]} changes by ${size.replace('-', '−')} a month (Theil–Sen slope over ${count(days, 'day')}${span}; ` +
      `Mann–Kendall p = ${p.toPrecision(1)}, one-sided).${rule ? `\n    The rule: ${rule}` : ''}`
    );
  });
}

function curve({ pumpCurve }: FindingsDocument): string[] {
  if (!pumpCurve) return [];
  const { headShare, interval, points, verdict, rule } = pumpCurve;
  const percent = (share: number): string => `${Math.round(100 * share)} %`;
  const told = { on_its_curve: 'on its curve', below_its_curve: 'below its curve', cannot_tell: "can't be told" }[
    verdict
  ];
  return [
    `Head against its curve at the same flow: ${percent(headShare)} (95 %: ${percent(interval[0])} to ${percent(interval[1])}), ${count(points, 'reading')}: ${told}.`,
    ...(rule ? [`    The rule: ${rule}`] : []),
  ];
}

function weakInlet({ weakInlet, thresholds }: FindingsDocument, at: LocalFormat): string[] {
  if (weakInlet.length === 0) return [];
  return [
    `Inlet below ${bar(thresholds.weakInletBar)} while the pump ran: ${count(weakInlet.length, 'time')}.`,
    ...listed(weakInlet, (weak) => `${at.span(weak.start, weak.end)}: ${weakWords(weak)}`),
  ];
}

function weakWords({ minBar, pullBar, standingBar, atRangeEnd }: FindingsDocument['weakInlet'][number]): string {
  const end = atRangeEnd ? ' (at or below the sensor’s range)' : '';
  if (pullBar === undefined || standingBar === undefined) return `lowest ${bar(minBar)}${end}`;
  return `lowest ${bar(minBar)}${end}, ${bar(pullBar)} below the ${bar(standingBar)} that the main stood at`;
}

function inletPull({ hours, ...all }: NonNullable<FindingsDocument['inletPull']>): string[] {
  const pull = ({ medianPullBar, worstPullBar }: typeof all) =>
    medianPullBar === undefined || worstPullBar === undefined
      ? 'how far below the standing pressure isn’t known'
      : `${bar(medianPullBar)} below the standing pressure in the middle, ${bar(worstPullBar)} at most`;
  return [
    `The inlet while the pump ran (${count(all.runs, 'run')}): ${pull(all)}; lowest ${bar(all.lowestBar)}.`,
    ...hours.map(
      (one) =>
        `- ${hourSpan(one.hour)}: ${count(one.runs, 'run')}, ${one.weakRuns} of them weak; ${pull(one)}; lowest ${bar(one.lowestBar)}`,
    ),
  ];
}

function grouped<T>(all: readonly T[], keyOf: (one: T) => string): T[][] {
  const groups = new Map<string, T[]>();
  for (const one of all) {
    const key = keyOf(one);
    const group = groups.get(key);
    if (group) group.push(one);
    else groups.set(key, [one]);
  }
  return [...groups.values()];
}
