import type {
  FindingsDocument,
  InletPull,
  InletPullFigures,
  PumpState,
  PumpStateKind,
  PumpTrend,
} from '../analysis/findings.ts';
import { hourSpan } from '../analysis/pump/pull-words.ts';
import { stepsOnce } from '../analysis/pump/steps-once.ts';
import { bar, clockSpan, dayOf, duration, lengthMs, localSpan } from './figures.ts';
import type { LetterBlock } from './letter-blocks.ts';

/** More spells of a kind than this are told by day. */
const MOST_SPELLS = 12;
/** A table of more rows than this is cut, and says how many were left out; the findings document holds all. */
const MOST_ROWS = 60;

const STATE_CAPTIONS: Record<PumpStateKind, string> = {
  runs_on: 'The pump ran on without reaching its cut-out',
  no_rise: 'The pump ran without lifting the pressure',
  did_not_start: 'The pressure stayed below cut-in, and no start lifted it',
  did_not_stop: 'The pump did not stop',
  too_many_starts: 'The pump started more often in an hour than its limit',
  outside_hours: 'The pump started outside its allowed hours',
};

/** What a pump did that it isn't there for, slow changes, its curve, and what to do next about all that was found of it. */
export function pumpBlocks(findings: FindingsDocument, timeZone: string): LetterBlock[] {
  const states = findings.pumpStates ?? [];
  const kinds = [...new Set(states.map(({ kind }) => kind))];
  const steps = stepsOnce(findings);
  return [
    ...(findings.inletPull ? [pullTable(findings.inletPull)] : []),
    ...kinds.map((kind) =>
      stateTable(
        states.filter((state) => state.kind === kind),
        timeZone,
      ),
    ),
    ...(findings.pumpTrends?.length ? [trendTable(findings.pumpTrends)] : []),
    ...(findings.pumpCurve ? [curveParagraph(findings.pumpCurve)] : []),
    ...(steps.length === 0
      ? []
      : ([
          { kind: 'paragraph', text: 'What to do next about the pump:' },
          { kind: 'list', items: steps },
        ] as const)),
  ];
}

function counts(kind: PumpStateKind): boolean {
  return kind === 'too_many_starts' || kind === 'outside_hours';
}

function valueWords({ kind, value }: PumpState): string {
  return counts(kind) ? String(value) : bar(value);
}

function stateTable(states: readonly PumpState[], timeZone: string): LetterBlock {
  const { kind } = states[0]!;
  const head = kind === 'too_many_starts' ? 'Worst hour' : kind === 'outside_hours' ? 'Starts' : 'Held at';
  if (states.length > MOST_SPELLS) return byDay(states, head, timeZone);
  const levels = states.some(({ cutInBar, cutOutBar }) => cutInBar !== undefined && cutOutBar !== undefined);
  return {
    kind: 'table',
    table: {
      caption: STATE_CAPTIONS[kind],
      head: ['When', 'For', head, ...(levels ? ['Cut-in, cut-out'] : []), 'Certainty'],
      rows: states.map((state) => [
        localSpan(state.start, state.end, timeZone),
        duration(lengthMs(state)),
        valueWords(state),
        ...(levels ? [levelWords(state)] : []),
        state.certainty ?? '',
      ]),
    },
  };
}

function levelWords({ cutInBar, cutOutBar }: PumpState): string {
  return cutInBar === undefined || cutOutBar === undefined ? '' : `${bar(cutInBar)}, ${bar(cutOutBar)}`;
}

/** Spells are counted to the day in which they begin. */
function byDay(states: readonly PumpState[], head: string, timeZone: string): LetterBlock {
  const { kind } = states[0]!;
  const days = new Map<string, PumpState[]>();
  for (const state of states) {
    const day = dayOf(state.start, timeZone);
    days.set(day, [...(days.get(day) ?? []), state]);
  }
  const rows = [...days].map(([day, here]) => {
    const values = here.map(({ value }) => value);
    const told =
      kind === 'outside_hours'
        ? String(values.reduce((sum, value) => sum + value, 0))
        : kind === 'too_many_starts'
          ? String(Math.max(...values))
          : bar(Math.min(...values));
    return [
      day,
      String(here.length),
      clockSpan(here[0]!.start, here.at(-1)!.end, timeZone),
      duration(here.reduce((sum, state) => sum + lengthMs(state), 0)),
      told,
      here.every(({ certainty }) => certainty === 'certain') ? 'certain' : 'possible',
    ];
  });
  const left = rows.length - MOST_ROWS;
  const cut = left > 0 ? `, the first ${MOST_ROWS} of ${rows.length} days` : ' by the day on which they begin';
  const worst = kind === 'too_many_starts' ? 'Worst hour' : kind === 'outside_hours' ? head : 'Lowest held';
  return {
    kind: 'table',
    table: {
      caption: `${STATE_CAPTIONS[kind]}, ${states.length} spells${cut}`,
      head: ['Day', 'Spells', 'Between', 'In all', worst, 'Certainty'],
      rows: rows.slice(0, MOST_ROWS),
    },
  };
}

/** How far the pump pulled its inlet down, a row for every hour in which it started. */
function pullTable({ hours, ...all }: InletPull): LetterBlock {
  return {
    kind: 'table',
    table: {
      caption:
        'How far the pump pulled the main below its standing pressure of that moment, by the hour in which it started',
      head: ['Hour', 'Runs', 'Weak', 'Median', 'At most', 'Lowest'],
      rows: [
        ...(hours.length > 1 ? [['All', ...pullCells(all)]] : []),
        ...hours.map((hour) => [hourSpan(hour.hour), ...pullCells(hour)]),
      ],
    },
  };
}

function pullCells({ runs, weakRuns, lowestBar, medianPullBar, worstPullBar }: InletPullFigures): string[] {
  const known = (value: number | undefined): string => (value === undefined ? 'not known' : bar(value));
  return [String(runs), String(weakRuns), known(medianPullBar), known(worstPullBar), bar(lowestBar)];
}

const TREND_WORDS: Record<PumpTrend['figure'], string> = {
  filling: 'How fast it fills its vessel',
  cut_out: 'Pressure at which it stops',
};

function trendTable(trends: readonly PumpTrend[]): LetterBlock {
  return {
    kind: 'table',
    table: {
      caption: 'Slow changes of the pump (slope by Theil and Sen, test by Mann and Kendall, one-sided)',
      head: ['What', 'Days', 'Change a month', 'p'],
      rows: trends.map(({ figure, firstDay, lastDay, days, perMonth, p }) => [
        TREND_WORDS[figure],
        firstDay && lastDay ? `${days}, ${firstDay} to ${lastDay}` : String(days),
        (figure === 'filling' ? `${(100 * perMonth).toFixed(0)} %` : bar(perMonth)).replace('-', '−'),
        p < 0.0001 ? 'under 0.0001' : String(Number(p.toPrecision(1))),
      ]),
    },
  };
}

function curveParagraph({
  headShare,
  interval,
  points,
  verdict,
}: NonNullable<FindingsDocument['pumpCurve']>): LetterBlock {
  const percent = (share: number): string => `${Math.round(100 * share)} %`;
  const told = {
    on_its_curve: 'it is on its curve',
    below_its_curve: 'it is below its curve',
    cannot_tell: 'that doesn’t settle whether it is below its curve',
  }[verdict];
  return {
    kind: 'paragraph',
    text: `The pump’s head over that of its curve at the same flow is ${percent(headShare)} (95 %: ${percent(interval[0])} to ${percent(interval[1])}, from ${points} readings): ${told}.`,
  };
}
