import { localText } from '../../collector/model/local-time.ts';
import { plusMinusBar } from '../../collector/model/uncertainty-words.ts';
import type { Cycling, LowSupply, Sag, WeakInlet } from '../analysis/findings.ts';
import { bar, clockSpan, dayOf, duration, lengthMs, localMoment, localSpan } from './figures.ts';
import { fittingBlocks } from './fitting-blocks.ts';
import type { LetterBlock } from './letter-blocks.ts';
import type { LetterInput } from './letter-input.ts';
import { pumpBlocks } from './pump-blocks.ts';

/** A table of more rows than this is cut, and says how many were left out; the findings document holds all. */
const MOST_ROWS = 60;
/** ± 0.00 would say that something is known exactly. */
const LEAST_TOLD_BAR = 0.01;
/** More spells than this are told by day. */
const MOST_SPELLS = 15;
/** More runs with a weak inlet than this are told by day. */
const MOST_INLET_ROWS = 15;

const CAUSE_WORDS: Record<Cycling['causes'][number], string> = {
  leak: 'a leak or a dripping outlet',
  check_valve: 'a passing check valve',
  lost_precharge: 'a vessel that has lost its pre-charge',
  narrow_differential: 'a switch set too narrow',
};

const KIND_WORDS: Record<Cycling['kind'], string> = {
  no_demand: 'with nobody drawing',
  rapid_on_demand: 'rapidly, while water is drawn',
  normal: 'normally',
};

/** What was found, in sentences with their certainty, then the tables behind them. */
export function findingBlocks(input: LetterInput): LetterBlock[] {
  const { findings } = input;
  const blocks: LetterBlock[] = [];
  const statements = findings.evidence.statements.map((statement) =>
    statement.certainty === 'unknown'
      ? `${statement.text} (can't be told)`
      : `${statement.text} (${statement.certainty})`,
  );
  if (statements.length > 0) blocks.push({ kind: 'list', items: statements });
  else blocks.push({ kind: 'paragraph', text: 'Nothing was found in this span that calls for a statement.' });
  if (findings.lowSupply.length > 0) blocks.push(...lowSupplyBlocks(findings.lowSupply, input.timeZone));
  if (findings.qualifying.occasions.length > 0)
    blocks.push({
      kind: 'paragraph',
      text: `${findings.qualifying.occasions.length} of these periods lasted an hour or longer, in ${findings.qualifying.pairs.length} qualifying ${findings.qualifying.pairs.length === 1 ? 'pair' : 'pairs'}. Interpretation used: ${findings.qualifying.interpretation}`,
    });
  const sags = findings.sags.filter((sag) => sag.state === 'present');
  if (sags.length > 0) blocks.push(sagTable(sags, input.timeZone));
  const episodes = findings.cycling.filter((episode) => episode.kind !== 'normal');
  if (episodes.length > 0) blocks.push(cyclingTable(episodes, input.timeZone));
  if (findings.weakInlet.length > 0) blocks.push(weakInletTable(findings.weakInlet, input.timeZone));
  blocks.push(...pumpBlocks(findings, input.timeZone));
  if (findings.changes.length > 0)
    blocks.push(
      table(
        'Lasting changes',
        ['When', 'Kind', 'From', 'To'],
        findings.changes.map((change) => [
          localMoment(change.at, input.timeZone),
          change.kind,
          bar(change.fromBar),
          bar(change.toBar),
        ]),
      ),
    );
  blocks.push(...fittingBlocks(findings.fitting, input.timeZone));
  if (findings.evidence.logging) blocks.push({ kind: 'paragraph', text: findings.evidence.logging.text });
  if (findings.evidence.open.length > 0) {
    blocks.push({ kind: 'paragraph', text: 'Still open, and what would settle it:' });
    blocks.push({ kind: 'list', items: findings.evidence.open });
  }
  return blocks;
}

function lowSupplyBlocks(periods: readonly LowSupply[], timeZone: string): LetterBlock[] {
  const periodTable = table(
    `Standing pressure below ${bar(periods[0]!.thresholdBar)}`,
    ['When', 'For', 'Lowest', 'Seen with no draw', 'Certainty'],
    periods.map((period) => [
      localSpan(period.start, period.end, timeZone),
      duration(lengthMs(period)),
      `${bar(period.minBar)} ${plusMinusBar(Math.max(LEAST_TOLD_BAR, 2 * period.standardUncertaintyBar))}`,
      seenWords(period.seenFraction),
      period.certainty,
    ]),
  );
  if (periods.every(({ seenFraction }) => seenFraction >= WHOLLY_SEEN)) return [periodTable];
  return [
    periodTable,
    {
      kind: 'paragraph',
      text: 'Where the household drew water, the pressure with nobody drawing was worked out through the draw from the falls at its beginning and end. The uncertainty that this adds is part of the lowest’s and of the certainty.',
    },
  ];
}

/** To the nearest whole per cent. */
const WHOLLY_SEEN = 0.995;
const HARDLY_SEEN = 0.005;

function seenWords(fraction: number): string {
  if (fraction >= WHOLLY_SEEN) return 'all of it';
  if (fraction < HARDLY_SEEN) return 'none of it, worked out';
  return `${Math.round(100 * fraction)} %, the rest worked out`;
}

function sagTable(sags: readonly Sag[], timeZone: string): LetterBlock {
  return table(
    'Falls below the level of the night (half depth to half depth)',
    ['Day', 'When', 'Depth', 'Down to'],
    sags.map((sag) => [
      `${localText(Date.parse(`${sag.day}T12:00:00Z`), 'UTC', 'ccc d LLL')}, ${sag.window}`,
      sag.start && sag.end ? clockSpan(sag.start, sag.end, timeZone) : 'not whole in the record',
      sag.depthBar === undefined
        ? ''
        : `${bar(sag.depthBar)}${sag.depthSdBar === undefined ? '' : ` ${plusMinusBar(Math.max(LEAST_TOLD_BAR, 2 * sag.depthSdBar))}`}`,
      sag.lowestBar === undefined ? '' : bar(sag.lowestBar),
    ]),
  );
}

function cyclingTable(episodes: readonly Cycling[], timeZone: string): LetterBlock {
  if (episodes.length > MOST_SPELLS) return cyclingByDay(episodes, timeZone);
  return table(
    'The pump cycles',
    ['When', 'Starts', 'An hour', 'How', 'Points to'],
    episodes.map((episode) => [
      localSpan(episode.start, episode.end, timeZone),
      `${episode.startsAtLeast ? 'at least ' : ''}${episode.starts}`,
      episode.startsPerHour.toFixed(1),
      KIND_WORDS[episode.kind],
      causeWords(episode),
    ]),
  );
}

/** Spells are counted to the day in which they begin. */
function cyclingByDay(episodes: readonly Cycling[], timeZone: string): LetterBlock {
  const groups = new Map<string, Cycling[]>();
  for (const episode of episodes) {
    const key = [dayOf(episode.start, timeZone), episode.kind, causeWords(episode)].join('|');
    groups.set(key, [...(groups.get(key) ?? []), episode]);
  }
  return table(
    `The pump cycles, ${episodes.length} spells by the day on which they begin`,
    ['Day', 'Spells', 'Between', 'In all', 'Starts', 'An hour', 'How', 'Points to'],
    [...groups.values()].map((entries) => {
      const starts = entries.reduce((sum, episode) => sum + episode.starts, 0);
      const lengths = entries.reduce((sum, episode) => sum + lengthMs(episode), 0);
      const rates = entries.map(({ startsPerHour }) => Math.round(startsPerHour));
      const [least, most] = [Math.min(...rates), Math.max(...rates)];
      const first = entries[0]!;
      return [
        dayOf(first.start, timeZone),
        String(entries.length),
        clockSpan(first.start, entries.at(-1)!.end, timeZone),
        duration(lengths),
        `${entries.some(({ startsAtLeast }) => startsAtLeast) ? 'at least ' : ''}${starts}`,
        least === most ? String(least) : `${least} to ${most}`,
        KIND_WORDS[first.kind],
        causeWords(first),
      ];
    }),
  );
}

function causeWords({ causes }: Cycling): string {
  return causes.map((cause) => CAUSE_WORDS[cause]).join(', or ');
}

/** A pump that starves does so run after run: a row a day then holds all of them where a row a run would be cut. */
function weakInletTable(runs: readonly WeakInlet[], timeZone: string): LetterBlock {
  if (runs.length <= MOST_INLET_ROWS)
    return table(
      'Inlet too low while the pump ran',
      ['When', 'Lowest', 'Main stood at', 'Pulled below it'],
      runs.map((run) => [
        localSpan(run.start, run.end, timeZone),
        lowestWords(run),
        knownBar(run.standingBar),
        knownBar(run.pullBar),
      ]),
    );
  const byDay = new Map<string, WeakInlet[]>();
  for (const run of runs) {
    const day = dayOf(run.start, timeZone);
    byDay.set(day, [...(byDay.get(day) ?? []), run]);
  }
  return table(
    `Inlet too low while the pump ran, ${runs.length} runs by day`,
    ['Day', 'Runs', 'Between', 'In all', 'Lowest', 'Pulled, at most'],
    [...byDay].map(([day, entries]) => {
      const pulls = entries.flatMap(({ pullBar }) => pullBar ?? []);
      return [
        day,
        String(entries.length),
        clockSpan(entries[0]!.start, entries.at(-1)!.end, timeZone),
        duration(entries.reduce((sum, run) => sum + lengthMs(run), 0)),
        lowestWords(entries.reduce((least, run) => (run.minBar < least.minBar ? run : least))),
        knownBar(pulls.length > 0 ? Math.max(...pulls) : undefined),
      ];
    }),
  );
}

function lowestWords({ minBar, atRangeEnd }: WeakInlet): string {
  return atRangeEnd ? `${bar(minBar)} or less` : bar(minBar);
}

function knownBar(value: number | undefined): string {
  return value === undefined ? 'not known' : bar(value);
}

function table(caption: string, head: readonly string[], rows: readonly (readonly string[])[]): LetterBlock {
  const left = rows.length - MOST_ROWS;
  return {
    kind: 'table',
    table: {
      caption: left > 0 ? `${caption} (the first ${MOST_ROWS} of ${rows.length})` : caption,
      head,
      rows: rows.slice(0, MOST_ROWS),
    },
  };
}
