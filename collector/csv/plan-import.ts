import { Readable } from 'node:stream';
import type { EpochMs } from '../model/units.ts';
import { chooseColumns, type Layout } from './columns.ts';
import type { CsvOptions } from './csv-options.ts';
import { type CsvQuestion, needsAnswer } from './csv-question.ts';
import { type CsvHead, type CsvSource, plainBytes, readHead } from './csv-source.ts';
import { type CsvGrammar, type CsvRow, tokenizeStream } from './csv-tokens.ts';
import { findGrammar, isBlank } from './grammar.ts';
import { createRowReader, type RowReading } from './read-row.ts';
import { createTimeReader } from './read-time.ts';
import { createRepeatedHourScan, type PassOfRow } from './repeated-hour.ts';
import { createSurvey, type ReadingRules, type SurveyResult, timeText } from './survey.ts';
import { createWallClock, type WallClock } from './wall-clock.ts';

/** Times before it are refused anyway, so the zone's clock needs no earlier history. */
const CLOCK_FROM_MS = Date.UTC(1999, 11, 25);
const CLOCK_AHEAD_MS = 3 * 86_400_000;

export interface ImportPlan {
  readonly grammar: CsvGrammar;
  readonly layout: Layout;
  readonly rules: ReadingRules;
  readonly readRow: (row: CsvRow) => RowReading;
}

/** Rows of a source after its header, blank ones left out, in batches. */
export async function* dataRows(source: CsvSource, grammar: CsvGrammar, headerLine = 0): AsyncGenerator<CsvRow[]> {
  for await (const rows of tokenizeStream(Readable.from(plainBytes(source), { objectMode: false }), grammar)) {
    yield rows.filter((row) => row.line > headerLine && !isBlank(row));
  }
}

/**
 * Decides how a file is to be read, from all of it: every row is looked at once, and where the file has times in a
 * zone's repeated hour a second time for their order. Throws `needs_answer` with all questions that stay open.
 */
export async function planImport(
  source: CsvSource,
  options: CsvOptions,
  nowMs: EpochMs,
  onRows: (rows: number) => void = () => undefined,
): Promise<ImportPlan> {
  const head = await readHead(source);
  const { grammar, layout, questions } = await planColumns(head, options);
  if (layout === undefined || questions.length > 0) throw needsAnswer(questions);
  const survey = createSurvey(layout, options, grammar.delimiter);
  let rows = 0;
  for await (const batch of dataRows(source, grammar, layout.headerLine)) {
    for (const row of batch) survey.add(row);
    rows += batch.length;
    onRows(rows);
  }
  const surveyed = survey.result();
  if (surveyed.questions.length > 0) throw needsAnswer(surveyed.questions);
  const clock = zoneClock(surveyed.rules, nowMs);
  const scan = startScan(surveyed, clock, layout, nowMs);
  if (scan) {
    for await (const batch of dataRows(source, grammar, layout.headerLine)) for (const row of batch) scan.add(row);
  }
  return finishPlan(grammar, layout, options, surveyed.rules, clock, scan?.settle(), nowMs);
}

/** The same for rows at hand, as a preview has them: questions are returned, and the reader reads as far as it can. */
export function planRows(
  rows: readonly CsvRow[],
  grammar: CsvGrammar,
  layout: Layout,
  options: CsvOptions,
  nowMs: EpochMs,
): { plan: ImportPlan; questions: readonly CsvQuestion[] } {
  const survey = createSurvey(layout, options, grammar.delimiter);
  for (const row of rows) survey.add(row);
  const surveyed = survey.result();
  const clock = zoneClock(surveyed.rules, nowMs);
  const scan = startScan(surveyed, clock, layout, nowMs);
  if (scan) for (const row of rows) scan.add(row);
  const plan = finishPlan(grammar, layout, options, surveyed.rules, clock, scan?.settle(), nowMs);
  return { plan, questions: surveyed.questions };
}

/** Grammar and columns from the head alone: they are the same all through a file. */
export async function planColumns(
  head: CsvHead,
  options: CsvOptions,
): Promise<{ grammar: CsvGrammar; layout: Layout | undefined; names: string[]; questions: CsvQuestion[] }> {
  const found = await findGrammar(head, options);
  return { grammar: found.grammar, ...chooseColumns(found, options) };
}

function zoneClock(rules: ReadingRules, nowMs: EpochMs): WallClock {
  return createWallClock(rules.zone, CLOCK_FROM_MS, nowMs + CLOCK_AHEAD_MS);
}

function startScan(
  surveyed: SurveyResult,
  clock: WallClock,
  layout: Layout,
  nowMs: EpochMs,
): { add: (row: CsvRow) => void; settle: () => PassOfRow } | undefined {
  const [from, to] = surveyed.clockRows > 0 ? [CLOCK_FROM_MS, nowMs] : [surveyed.firstWallMs, surveyed.lastWallMs];
  if (surveyed.wallRows + surveyed.clockRows === 0 || clock.repeatedSpans(from, to).length === 0) return undefined;
  const readTime = createTimeReader(surveyed.rules);
  const scan = createRepeatedHourScan(clock);
  return {
    add(row) {
      const time = readTime(timeText(row.cells, layout));
      if (time.kind === 'wall') scan.add(time.wallMs, row.line);
    },
    settle: scan.settle,
  };
}

function finishPlan(
  grammar: CsvGrammar,
  layout: Layout,
  options: CsvOptions,
  rules: ReadingRules,
  clock: WallClock,
  passOfRow: PassOfRow = () => undefined,
  nowMs: EpochMs,
): ImportPlan {
  const readRow = createRowReader({ layout, rules, channel: options.channel, clock, passOfRow, nowMs });
  return { grammar, layout, rules, readRow };
}
