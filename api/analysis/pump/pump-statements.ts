import { localDate, localText } from '../../../collector/model/local-time.ts';
import { bar } from '../evidence/wording.ts';
import type { AnalysisSite, Change, Cycling, CyclingCause, Evidence, InletPull, WeakInlet } from '../findings.ts';
import { median } from '../statistics/quantile.ts';
import { oddsWords } from './cause-figures.ts';
import { weighCauses } from './cause-weights.ts';
import { pullWords } from './pull-words.ts';
import { usualHours } from './usual-hours.ts';

type Statement = Evidence['statements'][number];

const DAY_MS = 86_400_000;
/** Cycling still seen this close to the log's end goes on. */
const GOES_ON_MS = 2 * DAY_MS;
/** Cycling first seen this close to the log's beginning was there before. */
const FROM_THE_START_MS = DAY_MS / 4;

const POINTS_TO: Record<CyclingCause, string> = {
  leak: 'a leak or a dripping outlet behind the pump',
  check_valve: 'a check valve that lets water back to the main',
  lost_precharge: 'a pressure vessel that has lost its pre-charge or is too small',
  narrow_differential: 'a pressure switch set too narrow',
};

/** What the pump did, in sentences for the page and the letter, likely cause and dates included. */
export function pumpStatements(
  cycling: readonly Cycling[],
  weakInlet: readonly WeakInlet[],
  inletPull: InletPull | undefined,
  changes: readonly Change[],
  site: AnalysisSite,
  span: { readonly startMs: number; readonly endMs: number },
): Statement[] {
  const idle = cycling.filter(({ kind }) => kind === 'no_demand');
  const rapid = cycling.filter(({ kind }) => kind === 'rapid_on_demand');
  return [
    ...(idle.length > 0 ? [idleStatement(idle, site, span)] : []),
    ...(rapid.length > 0 ? [rapidStatement(rapid, site, span)] : []),
    ...inletStatements(weakInlet, inletPull, site),
    ...changes.map((change) => changeStatement(change, site)),
  ];
}

function idleStatement(idle: readonly Cycling[], site: AnalysisSite, span: Span): Statement {
  const rate = median(idle.map(({ startsPerHour }) => startsPerHour));
  const { text, certain } = pointsTo(idle);
  const when = period(idle, site, span);
  return {
    text:
      `${when.words} the pump ${when.verb} with nobody drawing water, about ${rounded(rate)} an hour ` +
      `(${dayCount(idle, site)}); ${text}.`,
    certainty: certain ? 'certain' : 'possible',
  };
}

function rapidStatement(rapid: readonly Cycling[], site: AnalysisSite, span: Span): Statement {
  const { text, certain } = pointsTo(rapid);
  const when = period(rapid, site, span);
  const between = 3600 / median(rapid.map(({ startsPerHour }) => startsPerHour));
  const least = rapid.every(({ startsAtLeast }) => startsAtLeast);
  const pace = least ? 'at most 15 s apart' : `about every ${rounded(between)} s`;
  return {
    text:
      `${when.words} the pump ${when.verb} ${pace} while water is drawn ` +
      `(${dayCount(rapid, site)}, ${rapid.length} spells), which wears it out; ${text}.`,
    certainty: certain ? 'certain' : 'possible',
  };
}

/** The causes by the number of starts that stand behind them, with the odds where these made the order. */
function pointsTo(episodes: readonly Cycling[]): { text: string; certain: boolean } {
  const { causes, sure: certain } = weighCauses(episodes);
  const [first, second] = causes;
  if (!first) return { text: 'what causes it can’t be told from this log', certain: false };
  const odds = first === 'leak' || first === 'check_valve' ? usualOdds(episodes) : '';
  return {
    text: certain
      ? `it points to ${POINTS_TO[first]}${odds}`
      : `it points to ${POINTS_TO[first]}, or else to ${POINTS_TO[second!]}: this log can’t settle which${odds}`,
    certain,
  };
}

/** The middle of the episodes' odds and what is asked of them, in brackets; empty where none rests on odds. */
function usualOdds(episodes: readonly Cycling[]): string {
  const odds = episodes.flatMap(({ ranking }) => ranking?.odds ?? []);
  if (odds.length === 0) return '';
  // Odds to either side are alike far from one to one on a scale of their logarithms.
  const middle = Math.exp(median(odds.map(({ checkValveToLeak }) => Math.log(checkValveToLeak))));
  return ` (odds ${oddsWords({ checkValveToLeak: middle })}; ${odds[0]!.needed} to 1 is asked)`;
}

interface Span {
  readonly startMs: number;
  readonly endMs: number;
}

function period(episodes: readonly Cycling[], site: AnalysisSite, span: Span): { words: string; verb: string } {
  const firstMs = Date.parse(episodes[0]!.start);
  const lastMs = episodes.reduce((latest, { end }) => Math.max(latest, Date.parse(end)), firstMs);
  const goesOn = span.endMs - lastMs <= GOES_ON_MS;
  const fromStart = firstMs - span.startMs <= FROM_THE_START_MS;
  const first = dayWords(firstMs, site);
  const last = dayWords(lastMs, site);
  if (goesOn) {
    return fromStart
      ? { words: `Throughout this log (since ${first})`, verb: 'starts' }
      : { words: `Since ${first}`, verb: 'starts' };
  }
  return { words: first === last ? `On ${first}` : `From ${first} to ${last}`, verb: 'started' };
}

function dayWords(atMs: number, site: AnalysisSite): string {
  return localText(atMs, site.timeZone, 'd LLLL yyyy');
}

function dayCount(episodes: readonly Cycling[], site: AnalysisSite): string {
  const days = new Set<string>();
  for (const { start, end } of episodes) {
    for (let at = Date.parse(start); at < Date.parse(end); at += DAY_MS / 2) days.add(localDate(at, site.timeZone));
    days.add(localDate(Date.parse(end) - 1, site.timeZone));
  }
  return days.size === 1 ? 'on one day' : `on ${days.size} days`;
}

function rounded(value: number): string {
  return value < 9.5 ? String(Math.max(1, Math.round(value))) : String(Number(value.toPrecision(2)));
}

/** Where no run was weak, how far the pump pulls is told by itself. */
function inletStatements(
  weakInlet: readonly WeakInlet[],
  inletPull: InletPull | undefined,
  site: AnalysisSite,
): Statement[] {
  if (weakInlet.length > 0) return [weakInletStatement(weakInlet, inletPull, site)];
  const pulled = inletPull && pullWords(inletPull);
  if (!pulled) return [];
  const above = `Its inlet never fell below ${site.thresholds.weakInletBar} bar meanwhile; the lowest was ${bar(inletPull.lowestBar)}.`;
  return [{ text: `${pulled} ${above}`, certainty: 'certain' }];
}

function weakInletStatement(
  weakInlet: readonly WeakInlet[],
  inletPull: InletPull | undefined,
  site: AnalysisSite,
): Statement {
  const lowest = weakInlet.reduce((least, spell) => Math.min(least, spell.minBar), Number.POSITIVE_INFINITY);
  const told = inletPull && pullWords(inletPull);
  const pulled = told ? ` ${told}` : '';
  const ends = weakInlet.filter(({ atRangeEnd }) => atRangeEnd).length;
  const beyond =
    ends === 0
      ? ''
      : ` ${ends === weakInlet.length ? (ends === 1 ? 'There' : 'In all of them') : `In ${ends} of them`} the reading was at or below the sensor’s range: the pump sucks ` +
        'at the main, and the truth may be lower still.';
  const hours = usualHours(
    weakInlet.map(({ start, end }) => ({ startMs: Date.parse(start), endMs: Date.parse(end) })),
    site.timeZone,
  );
  return {
    text:
      `In ${weakInlet.length === 1 ? 'one run' : `${weakInlet.length} runs`} of the pump its inlet fell below ` +
      `${site.thresholds.weakInletBar} bar, the lowest being ${bar(lowest)}` +
      `${weakInlet.length === 1 ? '' : hours ? `, most of them ${hours}` : ', at all hours of the day'}.${beyond}${pulled} A pump must not pull the main towards the air’s ` +
      'pressure: ask the supplier, and have a cut-off for low inlet pressure fitted by a licensed person.',
    certainty: 'certain',
  };
}

function changeStatement(change: Change, site: AnalysisSite): Statement {
  const what = change.toBar > change.fromBar ? 'fitted' : 'removed';
  const [least, most] = change.sizeIntervalBar ?? [];
  const interval =
    least === undefined || most === undefined
      ? ''
      : ` (a change of ${least.toFixed(2)} to ${most.toFixed(2)} bar, 95 %)`;
  return {
    text:
      `A booster was ${what} on ${dayWords(Date.parse(change.at), site)}: the reading went from ` +
      `${change.fromBar.toFixed(2)} to ${change.toBar.toFixed(2)} bar${interval}.`,
    certainty: 'certain',
  };
}

/** Questions that remain, with what would settle them. */
export function pumpQuestions(cycling: readonly Cycling[], noInlet: boolean): string[] {
  const doubtful = cycling.some(({ causes }) => causes.includes('leak') && causes.includes('check_valve'));
  if (!doubtful) return [];
  return [
    'Whether water leaks out behind the pump or back through its check valve isn’t settled' +
      (noInlet
        ? ': a second transducer before the pump, or an hour with the valve after the pump shut, would tell.'
        : '.'),
  ];
}
