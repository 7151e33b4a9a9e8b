import type { FindingsDocument, InletPull, PumpLitres, PumpTrend } from '../../api/analysis/findings.ts';
import { bar, count, dateAndClock, figure, flow, largeNumber, percent } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import type { FindingAccount } from './finding-account.ts';
import { stepLines } from './pump-finding-words.ts';

type Line = readonly [string, string];
type Fitting = NonNullable<FindingsDocument['fitting']>;

/** What holds of the log as a whole: slow changes, the vessel and what is lost, the curve, before and after a fitting. */
export function pumpAsAWhole(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  const { start, end } = findings.series;
  if (start === null || end === null) return [];
  const whole = { fromMs: Date.parse(start), toMs: Date.parse(end), certainty: undefined };
  return [
    ...(findings.pumpTrends ?? []).map((trend) => ({ ...whole, ...trendWords(trend) })),
    ...(findings.inletPull ? [{ ...whole, ...pullAccount(findings.inletPull) }] : []),
    ...(findings.pumpLitres?.usable ? [{ ...whole, ...litresWords(findings.pumpLitres) }] : []),
    ...(findings.pumpCurve ? [{ ...whole, ...curveWords(findings.pumpCurve) }] : []),
    ...(findings.fitting ? [{ ...whole, ...fittingWords(findings.fitting, time) }] : []),
  ];
}

type Told = Pick<FindingAccount, 'key' | 'title' | 'rule' | 'figures'>;

function trendWords({ figure: which, firstDay, lastDay, days, perMonth, p, rule, nextSteps }: PumpTrend): Told {
  const filling = which === 'filling';
  const size = filling ? `${figure(100 * perMonth, 0)}\u00a0%` : bar(perMonth);
  const down = perMonth < 0;
  return {
    key: `trend-${which.replace('_', '-')}`,
    title: `${filling ? (down ? 'The pump fills its vessel more slowly' : 'The pump fills its vessel faster') : down ? 'The pump stops at a falling pressure' : 'The pump stops at a rising pressure'}: ${size} a month`,
    rule: rule ?? '',
    figures: [
      ['Slope by Theil and Sen, in 30 days', filling ? `${size} of the median` : size],
      [
        'Mann–Kendall test, one-sided',
        `p\u00a0=\u00a0${Number(p.toPrecision(1))}: the chance of so steady a trend in days that are alike`,
      ],
      ['Days judged', firstDay && lastDay ? `${count(days)}, ${firstDay} to ${lastDay}` : count(days)],
      ...stepLines(nextSteps),
    ],
  };
}

/** How far the pump pulls its inlet down, in all and hour by hour. */
function pullAccount(pull: InletPull): Told {
  const { runs, weakRuns, lowestBar, medianPullBar, worstPullBar, hours } = pull;
  const known = medianPullBar !== undefined && worstPullBar !== undefined;
  return {
    key: 'inlet-pull',
    title: known
      ? `While it runs the pump pulls the main ${bar(medianPullBar)} below its standing pressure, ${bar(worstPullBar)} at most`
      : `The pump’s inlet while it ran: ${bar(lowestBar)} at the lowest`,
    rule: 'Each run’s lowest reading before the pump stands against the standing pressure of that moment: the straight line between what was read just before the run and after the inlet’s recovery. Hours are those in which a run starts.',
    figures: [
      ['Runs', `${largeNumber(runs)}, ${weakRuns === 0 ? 'none' : largeNumber(weakRuns)} of them weak`],
      ...(known
        ? ([
            ['Below standing pressure, median of the runs', bar(medianPullBar)],
            ['Below standing pressure, at most', bar(worstPullBar)],
          ] as const)
        : ([['Below standing pressure', 'can’t be told: the inlet wasn’t read beside the runs']] as const)),
      ['Lowest reading', bar(lowestBar)],
      ...likeHours(hours).map((some): Line => [hourRange(some), hourWords(some)]),
    ],
  };
}

type Hour = InletPull['hours'][number];

/** Hours whose pulls differ by less aren't told apart: a cheap transducer's second decimal. */
const ALIKE_BAR = 0.02;

/** Neighbouring hours that are alike are told together, so that those that aren't stand out. */
function likeHours(hours: readonly Hour[]): Hour[][] {
  const groups: Hour[][] = [];
  for (const hour of hours) {
    const group = groups.at(-1);
    const follows = group?.at(-1)?.hour === hour.hour - 1;
    if (group && follows && group.every((other) => isAlike(other, hour))) group.push(hour);
    else groups.push([hour]);
  }
  return groups;
}

function isAlike(one: Hour, other: Hour): boolean {
  const apart = Math.abs((one.medianPullBar ?? 0) - (other.medianPullBar ?? 0));
  const sameKnown = (one.medianPullBar === undefined) === (other.medianPullBar === undefined);
  return sameKnown && apart < ALIKE_BAR && one.weakRuns > 0 === other.weakRuns > 0;
}

function hourRange(hours: readonly Hour[]): string {
  const clock = (at: number): string => `${String(at).padStart(2, '0')}:00`;
  return `${clock(hours[0]!.hour)}–${clock(hours.at(-1)!.hour + 1)}`;
}

function hourWords(hours: readonly Hour[]): string {
  const sum = (of: (hour: Hour) => number): number => hours.reduce((total, hour) => total + of(hour), 0);
  const runs = sum((hour) => hour.runs);
  const weakRuns = sum((hour) => hour.weakRuns);
  const medians = hours.flatMap(({ medianPullBar }) => medianPullBar ?? []);
  const worst = hours.flatMap(({ worstPullBar }) => worstPullBar ?? []);
  const weak = weakRuns > 0 ? `, ${largeNumber(weakRuns)} weak` : '';
  const lowest = `lowest ${bar(Math.min(...hours.map(({ lowestBar }) => lowestBar)))}`;
  const told = `${largeNumber(runs)} ${runs === 1 ? 'run' : 'runs'}${weak}`;
  if (medians.length === 0 || worst.length === 0) return `${told}; ${lowest}`;
  const [least, most] = [figure(Math.min(...medians), 2), bar(Math.max(...medians))];
  const median = most.startsWith(least) ? most : `${least} to ${most}`;
  return runs === 1
    ? `${told}: ${median} below; ${lowest}`
    : `${told}: ${median} below (${hours.length === 1 ? 'median' : 'each hour’s median'}), ${bar(Math.max(...worst))} at most; ${lowest}`;
}

const LITRES_FROM = {
  bucket: 'a bucket’s reading',
  flow_channel: 'the flow meter, over rests that drew the vessel down',
  boyle: 'the vessel’s size and pre-charge by Boyle’s law, if they still hold',
} as const;

function litresWords({ usable, loss, fillLpm, mostStartsPerHour }: PumpLitres): Told {
  const figures: Line[] = [];
  if (usable) {
    figures.push(['Usable between cut-out and cut-in', interval(usable.litres, usable.interval, 'l')]);
    figures.push(['From', LITRES_FROM[usable.from]]);
  }
  if (loss) {
    figures.push(['Lost with nobody drawing', interval(loss.lpm, loss.interval, 'l/min')]);
    figures.push(['A day', `${count(Math.round(loss.lpm * 1440))}\u00a0l`]);
  }
  if (fillLpm !== undefined) figures.push(['The pump fills with', flow(fillLpm)]);
  if (mostStartsPerHour !== undefined)
    figures.push(['Most starts an hour that any draw can cause, 15·Q/V', figure(mostStartsPerHour, 0)]);
  const title = usable ? `The vessel gives ${twoDigits(usable.litres)}\u00a0l between stop and start` : 'The vessel';
  return {
    key: 'vessel-litres',
    title: loss ? `${title}; ${twoDigits(loss.lpm)}\u00a0l/min are lost at rest` : title,
    rule: 'By Boyle’s law the litres gone from a vessel go with the change of 1/P (absolute pressure). A bucket, a flow meter or the vessel’s own figures say how many litres that is.',
    figures,
  };
}

const VERDICTS = {
  on_its_curve: 'on its curve: where it doesn’t reach cut-out, more is drawn than it is made for',
  below_its_curve: 'below its curve: worn, clogged, or it turns too slowly',
  cannot_tell: 'can’t be told from these points',
} as const;

function curveWords({
  points,
  headShare,
  interval: ends,
  verdict,
  rule,
  nextSteps,
}: NonNullable<FindingsDocument['pumpCurve']>): Told {
  return {
    key: 'pump-curve',
    title: `The pump lifts ${percent(headShare)} of what its curve gives at the same flow`,
    rule: rule ?? '',
    figures: [
      [
        'Head seen over head of the curve',
        `${percent(headShare)} (95\u00a0%: ${percent(ends[0])} to ${percent(ends[1])})`,
      ],
      ['Readings', count(points)],
      ['It is', VERDICTS[verdict]],
      ...stepLines(nextSteps),
    ],
  };
}

const QUANTITIES = {
  flowLpm: ['flow', 'l/min', 1],
  pressureBar: ['pressure while it runs', 'bar', 2],
} as const;

function fittingWords({ at, outlets, logged }: Fitting, time: SiteTime): Told {
  const on = dateAndClock(Date.parse(at), time);
  return {
    key: 'fitting',
    title: `Before and after the fitting, ${on}`,
    rule: 'Outlets read on both sides are paired; the gain is Hodges and Lehmann’s, its interval by resampling the outlets. Of the log, days on either side are compared, the day itself left out; an interval needs three days or outlets a side.',
    figures: [
      ...outlets.flatMap(({ quantity, pairs, gain, interval: ends, answer }): Line[] => {
        const [name, unit, digits] = QUANTITIES[quantity];
        const told = (value: number): string => `${figure(value, digits)}\u00a0${unit}`;
        return [
          ...pairs.map(
            (pair): Line => [`${pair.outlet}, ${name}`, `${told(pair.before)} before, ${told(pair.after)} after`],
          ),
          ...(gain === undefined
            ? []
            : [
                [
                  `All together, ${name}`,
                  `${told(gain)}${ends ? ` (95\u00a0%: ${told(ends[0])} to ${told(ends[1])})` : ''}: ${answer}`,
                ] as const,
              ]),
        ];
      }),
      ...logged.map(
        ({ figure: which, fromBar, toBar, interval: ends, answer }): Line => [
          which === 'median' ? 'Logged pressure, a day’s median' : 'Logged pressure kept for 95\u00a0% of a day',
          `${bar(fromBar)} before, ${bar(toBar)} after${ends ? ` (95\u00a0% of the change: ${bar(ends[0])} to ${bar(ends[1])})` : ''}: ${answer}`,
        ],
      ),
    ],
  };
}

function interval(value: number, ends: readonly [number, number], unit: string): string {
  return `${twoDigits(value)}\u00a0${unit} (95\u00a0%: ${twoDigits(ends[0])} to ${twoDigits(ends[1])})`;
}

function twoDigits(value: number): string {
  return String(Number(value.toPrecision(2)));
}
