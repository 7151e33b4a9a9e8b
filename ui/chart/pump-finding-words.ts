import type { CauseFigure, Cycling, FindingsDocument, PumpState } from '../../api/analysis/findings.ts';
import { bar, count, counted, duration, figure, listed, sentence } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import { CAUSE_WORDS, STATE_WORDS } from '../terms.ts';
import { type FindingAccount, keyOf, times } from './finding-account.ts';

type Line = readonly [string, string];

/** Episodes of cycling, each with what it points to, the figures that separate the causes, and the rule of their order. */
export function cyclingAccounts(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.cycling
    .filter((episode) => episode.kind !== 'normal')
    .map((episode) => {
      const { fromMs, toMs, words } = times(episode.start, episode.end, time);
      const noDemand = episode.kind === 'no_demand';
      const found = noDemand
        ? 'At least four starts no more than 20 minutes apart, with no household draw between them.'
        : 'At least four starts no more than 15 s apart while water was drawn.';
      return {
        key: keyOf('cycling', fromMs),
        fromMs,
        toMs,
        title: `Pump cycling ${noDemand ? 'without demand' : 'while water was drawn'}, ${words}: ${episode.startsPerHour.toFixed(1)} starts an hour`,
        certainty: undefined,
        rule: episode.ranking ? `${found} Its causes: ${episode.ranking.rule}` : found,
        figures: [
          ['Starts', `${episode.startsAtLeast ? 'at least ' : ''}${count(episode.starts)}`],
          [
            'Points to',
            episode.causes.length === 0
              ? 'no cause can be told'
              : listed(episode.causes.map((cause) => CAUSE_WORDS[cause])),
          ],
          ...(episode.reasons ?? []).map((reason): Line => ['Because', reason]),
          ...rankingLines(episode),
          ...stepLines(episode.nextSteps),
        ],
      };
    });
}

function rankingLines({ ranking }: Cycling): Line[] {
  if (!ranking) return [];
  const { odds, figures } = ranking;
  return [
    ...figures.map((one): Line => [one.name, `${valueWords(one)}; ${one.tells}`]),
    ...(odds
      ? [
          [
            'How sure, of leak and check valve',
            `${figure(100 * odds.probability, 1)}\u00a0% for the first named; ${odds.needed} to 1 (${figure((100 * odds.needed) / (1 + odds.needed), 1)}\u00a0%) is asked`,
          ] as const,
        ]
      : []),
  ];
}

function valueWords({ value, unit, sd }: CauseFigure): string {
  const digits = (some: number): string => String(Number(some.toPrecision(3))).replace('-', '\u2212');
  return `${digits(value)}${sd === undefined ? '' : ` ±${digits(2 * sd)}`}\u00a0${unit}`;
}

/** What to do next, the cautions last; the first line carries the name. */
export function stepLines(steps: readonly string[] | undefined): Line[] {
  return (steps ?? []).map(
    (step, at, all): Line => [at === all.length - 1 && all.length > 1 ? 'With care' : 'What to do next', step],
  );
}

/** Spells in which the pump did not do what it is there for. */
export function stateAccounts(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return (findings.pumpStates ?? []).map((state) => {
    const { fromMs, toMs, words } = times(state.start, state.end, time);
    return {
      key: keyOf(state.kind.replaceAll('_', '-'), fromMs),
      fromMs,
      toMs,
      title: `${sentence(STATE_WORDS[state.kind]).slice(0, -1)}, ${words}${heldWords(state)}`,
      certainty: state.certainty,
      rule: state.rule ?? state.reason,
      figures: [
        ['Lasted', duration(toMs - fromMs)],
        ['What was seen', state.reason],
        ...(state.cutInBar === undefined || state.cutOutBar === undefined
          ? []
          : [['Cut-in and cut-out', `${bar(state.cutInBar)} and ${bar(state.cutOutBar)}`] as const]),
        ...stepLines(state.nextSteps),
      ],
    };
  });
}

function heldWords({ kind, value }: PumpState): string {
  switch (kind) {
    case 'too_many_starts':
      return `: ${counted(value, 'start')} in the worst hour`;
    case 'outside_hours':
      return `: ${counted(value, 'start')}`;
    default:
      return `: held at ${bar(value)}`;
  }
}
