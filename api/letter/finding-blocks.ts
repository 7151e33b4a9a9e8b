import type { Cycling, LowSupply, Sag } from '../analysis/findings.ts';
import { bar, duration, lengthMs, localMoment, localSpan, share } from './figures.ts';
import type { LetterBlock } from './letter-blocks.ts';
import type { LetterInput } from './letter-input.ts';

/** A table of more rows than this is cut, and says how many were left out; the findings document holds all. */
const MOST_ROWS = 60;

const CAUSE_WORDS: Record<Cycling['causes'][number], string> = {
  leak: 'a leak or a dripping outlet',
  check_valve: 'a passing check valve',
  lost_precharge: 'a vessel that has lost its pre-charge',
  narrow_differential: 'a switch set too narrow',
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
  else
    blocks.push({
      kind: 'paragraph',
      text:
        findings.coverage.received === 0
          ? 'Nothing can be said of this span: no single readings of it are kept.'
          : 'Nothing was found in this span that calls for a statement.',
    });
  if (findings.lowSupply.length > 0) blocks.push(lowSupplyTable(findings.lowSupply, input.timeZone));
  if (findings.qualifying.occasions.length > 0)
    blocks.push({
      kind: 'paragraph',
      text: `${findings.qualifying.occasions.length} of these periods lasted an hour or longer, in ${findings.qualifying.pairs.length} qualifying ${findings.qualifying.pairs.length === 1 ? 'pair' : 'pairs'}. Interpretation used: ${findings.qualifying.interpretation}`,
    });
  const sags = findings.sags.filter((sag) => sag.state === 'present');
  if (sags.length > 0) blocks.push(sagTable(sags, input.timeZone));
  const episodes = findings.cycling.filter((episode) => episode.kind !== 'normal');
  if (episodes.length > 0) blocks.push(cyclingTable(episodes, input.timeZone));
  if (findings.weakInlet.length > 0)
    blocks.push(
      table(
        'Inlet too low while the pump ran',
        ['When', 'Lowest'],
        findings.weakInlet.map((entry) => [localSpan(entry.start, entry.end, input.timeZone), bar(entry.minBar)]),
      ),
    );
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
  if (findings.evidence.open.length > 0) {
    blocks.push({ kind: 'paragraph', text: 'Still open, and what would settle it:' });
    blocks.push({ kind: 'list', items: findings.evidence.open });
  }
  return blocks;
}

function lowSupplyTable(periods: readonly LowSupply[], timeZone: string): LetterBlock {
  return table(
    `Standing pressure below ${bar(periods[0]!.thresholdBar)}`,
    ['When', 'For', 'Lowest', 'Seen directly', 'Certainty'],
    periods.map((period) => [
      localSpan(period.start, period.end, timeZone),
      duration(lengthMs(period)),
      `${bar(period.minBar)} ± ${(2 * period.standardUncertaintyBar).toFixed(2)}`,
      share(period.seenFraction),
      period.certainty,
    ]),
  );
}

function sagTable(sags: readonly Sag[], timeZone: string): LetterBlock {
  return table(
    'Falls below the level of the night (half depth to half depth)',
    ['Day', 'When', 'Depth', 'Down to'],
    sags.map((sag) => [
      `${sag.day}, ${sag.window}`,
      sag.start && sag.end ? localSpan(sag.start, sag.end, timeZone) : 'not whole in the record',
      sag.depthBar === undefined
        ? ''
        : `${bar(sag.depthBar)}${sag.depthSdBar === undefined ? '' : ` ± ${(2 * sag.depthSdBar).toFixed(2)}`}`,
      sag.lowestBar === undefined ? '' : bar(sag.lowestBar),
    ]),
  );
}

function cyclingTable(episodes: readonly Cycling[], timeZone: string): LetterBlock {
  return table(
    'The pump cycles',
    ['When', 'Starts', 'An hour', 'How', 'Points to'],
    episodes.map((episode) => [
      localSpan(episode.start, episode.end, timeZone),
      String(episode.starts),
      episode.startsPerHour.toFixed(1),
      episode.kind === 'no_demand' ? 'with nobody drawing' : 'rapidly, while water is drawn',
      episode.causes.map((cause) => CAUSE_WORDS[cause]).join(', or '),
    ]),
  );
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
