import type { Layout } from './columns.ts';
import { type ClockForm, type CsvOptions, DATE_ORDERS, type DateOrder, type DecimalMark } from './csv-options.ts';
import type { CsvQuestion } from './csv-question.ts';
import type { CsvRow } from './csv-tokens.ts';
import { excerpt } from './excerpt.ts';
import { isBlank } from './grammar.ts';
import { numberForm } from './number-cell.ts';
import { type DateParts, dayMs, parseTimeCell } from './time-cell.ts';

/*
 * The first look at every row, before any is stored: which forms occur, and what each row rules out. A file is read in
 * the one way that all its rows allow; where two ways remain, it is asked, never guessed.
 */

/** How the cells of a file are to be read, after options and the whole file have spoken. */
export interface ReadingRules {
  readonly decimal: DecimalMark;
  readonly dateOrder: DateOrder;
  readonly clockForm: ClockForm;
  /** IANA zone of times without an offset. */
  readonly zone: string;
  /** Start of a file of times of day. */
  readonly date: string | undefined;
}

export interface SurveyResult {
  readonly rules: ReadingRules;
  readonly questions: readonly CsvQuestion[];
  /** Rows whose time needs the zone's clock. */
  readonly wallRows: number;
  readonly clockRows: number;
  /** Extent of the wall times, whatever the order of their dates. */
  readonly firstWallMs: number;
  readonly lastWallMs: number;
}

export interface Survey {
  add(row: CsvRow): void;
  result(): SurveyResult;
}

/**
 * Share of rows that a reading must fit to be taken without asking. The few that contradict it are refused by number:
 * a damaged row must neither turn the file round nor make it unreadable.
 */
const SETTLED_SHARE = 0.99;

interface Example {
  readonly line: number;
  readonly text: string;
}

/** The text of a row's time: one cell, or date and time of day joined. */
export function timeText(cells: readonly string[], layout: Layout): string {
  const [first, second] = layout.timeColumns;
  const text = (cells[first!] ?? '').trim();
  return second === undefined ? text : `${text} ${(cells[second] ?? '').trim()}`.trim();
}

/** Start of the day that three numbers mean in an order, or undefined where there is no such day. */
export function dayOf(parts: DateParts, order: DateOrder): number | undefined {
  const { first, second, third, fullYear } = parts;
  const century = fullYear ? 0 : 2000;
  switch (order) {
    case 'day-first':
      return dayMs(century + third, second, first);
    case 'month-first':
      return dayMs(century + third, first, second);
    case 'year-first':
      return fullYear ? undefined : dayMs(century + first, second, third);
    default:
      return order satisfies never;
  }
}

export function createSurvey(layout: Layout, options: CsvOptions, delimiter: string): Survey {
  const orderRows: Record<DateOrder, number> = { 'day-first': 0, 'month-first': 0, 'year-first': 0 };
  const forms = { whole: 0, dot: 0, comma: 0, 'grouped-comma': 0 };
  const decimalExamples: { dot?: Example; comma?: Example } = {};
  let times = 0;
  let walls = 0;
  let parts = 0;
  let clocks = 0;
  let pairs = 0;
  let minutePairs = 0;
  let firstWallMs = Number.POSITIVE_INFINITY;
  let lastWallMs = Number.NEGATIVE_INFINITY;
  const reach = (wallMs: number) => {
    firstWallMs = Math.min(firstWallMs, wallMs);
    lastWallMs = Math.max(lastWallMs, wallMs);
  };
  let ambiguousDate: Example | undefined;
  let wallExample: Example | undefined;
  let clockExample: Example | undefined;
  let pairExample: Example | undefined;

  return {
    add(row) {
      if (isBlank(row)) return;
      const value = (row.cells[layout.valueColumn] ?? '').trim();
      const form = numberForm(value);
      if (form !== undefined) {
        forms[form]++;
        if (form === 'dot') decimalExamples.dot ??= { line: row.line, text: value };
        else if (form !== 'whole') decimalExamples.comma ??= { line: row.line, text: value };
      }
      const text = timeText(row.cells, layout);
      const time = parseTimeCell(text);
      if (time === undefined) return;
      times++;
      switch (time.kind) {
        case 'instant':
          return;
        case 'wall':
          walls++;
          reach(time.wallMs);
          wallExample ??= { line: row.line, text };
          return;
        case 'parts': {
          parts++;
          if (time.offsetMs === undefined) {
            walls++;
            wallExample ??= { line: row.line, text };
          }
          const possible = DATE_ORDERS.filter((order) => dayOf(time.parts, order) !== undefined);
          for (const order of possible) {
            orderRows[order]++;
            reach(dayOf(time.parts, order)! + time.msOfDay);
          }
          if (possible.length > 1) ambiguousDate ??= { line: row.line, text };
          return;
        }
        case 'clock':
          clocks++;
          clockExample ??= { line: row.line, text };
          return;
        case 'pair':
          pairs++;
          clockExample ??= { line: row.line, text };
          pairExample ??= { line: row.line, text };
          if (time.fraction || time.first > 23) minutePairs++;
          return;
        default:
          time satisfies never;
      }
    },
    result() {
      const questions: CsvQuestion[] = [];
      // A kind that only a few rows show is no reason to ask: those rows are refused, and told.
      const many = (count: number) => count > 0 && count >= times * (1 - SETTLED_SHARE);
      const dateOrder = options.dateOrder ?? settleOrder(orderRows, parts, ambiguousDate, many(parts), questions);
      const clockForm = options.clockForm ?? settleClock(minutePairs, clocks, pairExample, many(pairs), questions);
      const decimal = options.decimal ?? settleDecimal(forms, decimalExamples, delimiter, questions);
      if (options.zone === undefined && many(walls)) questions.push(zoneQuestion(wallExample!));
      if (options.date === undefined && many(clocks + pairs))
        questions.push(dateQuestion(clockExample!, minutePairs > 0));
      const rules = { decimal, dateOrder, clockForm, zone: options.zone ?? 'UTC', date: options.date };
      return { rules, questions, wallRows: walls, clockRows: clocks + pairs, firstWallMs, lastWallMs };
    },
  };
}

function settleOrder(
  rows: Readonly<Record<DateOrder, number>>,
  total: number,
  example: Example | undefined,
  many: boolean,
  questions: CsvQuestion[],
): DateOrder {
  const most = Math.max(...DATE_ORDERS.map((order) => rows[order]));
  const best = DATE_ORDERS.filter((order) => rows[order] === most);
  if (!many || (best.length === 1 && most >= total * SETTLED_SHARE)) return best[0]!;
  const time = parseTimeCell(example?.text ?? '');
  const possible = time?.kind === 'parts' ? DATE_ORDERS.filter((order) => dayOf(time.parts, order) !== undefined) : [];
  questions.push({
    option: 'dateOrder',
    question: example
      ? `Which number of the date in ${excerpt(example.text)} (line ${example.line}) is the day? Other rows don't settle it.`
      : 'Which number of the dates is the day? Some rows fit one order only, some the other.',
    answers: (possible.length > 0 ? possible : best).map((order) => ({
      value: order,
      meaning: time?.kind === 'parts' ? longDate(dayOf(time.parts, order)!) : order,
    })),
  });
  return best[0]!;
}

function settleClock(
  minutePairs: number,
  clocks: number,
  example: Example | undefined,
  many: boolean,
  questions: CsvQuestion[],
): ClockForm {
  if (minutePairs > 0 && clocks === 0) return 'mm:ss';
  if (!many || clocks > 0) return 'HH:MM';
  questions.push({
    option: 'clockForm',
    question: `Is ${excerpt(example!.text)} (line ${example!.line}) hours and minutes, or minutes and seconds?`,
    answers: [
      { value: 'HH:MM', meaning: 'hours and minutes' },
      { value: 'mm:ss', meaning: 'minutes and seconds' },
    ],
  });
  return 'HH:MM';
}

function settleDecimal(
  forms: { dot: number; comma: number; 'grouped-comma': number },
  examples: { dot?: Example; comma?: Example },
  delimiter: string,
  questions: CsvQuestion[],
): DecimalMark {
  const commas = forms.comma + forms['grouped-comma'];
  const marked = forms.dot + commas;
  if (forms.dot >= marked * SETTLED_SHARE) return '.';
  const settled = commas >= marked * SETTLED_SHARE;
  // Where commas part the columns, a quoted "1,482" is as likely a thousand and more; elsewhere it is a decimal comma.
  if (settled && (delimiter !== ',' || forms.comma > 0)) return ',';
  const { dot, comma } = examples;
  questions.push({
    option: 'decimal',
    question: settled
      ? `Is the comma in ${excerpt(comma!.text)} (line ${comma!.line}) a decimal mark? Every value has three digits after it.`
      : `Some values have a decimal point (${excerpt(dot!.text)}, line ${dot!.line}), others a comma (${excerpt(comma!.text)}, line ${comma!.line}): which is the decimal mark?`,
    answers: [
      { value: ',', meaning: 'the comma is the decimal mark' },
      {
        value: '.',
        meaning: settled ? 'the comma parts thousands: such values are refused' : 'the point is the decimal mark',
      },
    ],
  });
  return '.';
}

function zoneQuestion(example: Example): CsvQuestion {
  return {
    option: 'zone',
    question: `In which time zone is ${excerpt(example.text)} (line ${example.line})? The times carry no offset: name UTC or the zone of the place.`,
    answers: [],
    example: 'Europe/London',
  };
}

function dateQuestion(example: Example, minutes: boolean): CsvQuestion {
  return {
    option: 'date',
    question: `On which day does the file start? Times such as ${excerpt(example.text)} (line ${example.line}) carry no date${minutes ? ' and no hour (a day alone means the hour after midnight)' : ''}; they are taken as UTC unless zone is given.`,
    answers: [],
    example: minutes ? '2026-05-04T14' : '2026-05-04',
  };
}

function longDate(startMs: number): string {
  return new Date(startMs).toLocaleDateString('en-GB', {
    day: 'numeric',
    month: 'long',
    year: 'numeric',
    timeZone: 'UTC',
  });
}
