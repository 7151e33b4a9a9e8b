import { CHANNELS, type Channel, isChannel, isLoggerId } from '../model/channel.ts';
import { parseRfc3339 } from '../model/instant.ts';
import { isTimeZone } from '../model/local-time.ts';
import { Problem } from '../model/problem.ts';
import { isUnitOf, UNITS } from '../model/units.ts';
import { excerpt } from './excerpt.ts';

export const DELIMITERS = [',', ';', '\t', '|', ' '] as const;
export type Delimiter = (typeof DELIMITERS)[number];

export const DATE_ORDERS = ['day-first', 'month-first', 'year-first'] as const;
/** Order of the three numbers of a date such as 04/05/2026; `year-first` only where the year has two digits. */
export type DateOrder = (typeof DATE_ORDERS)[number];

export const CLOCK_FORMS = ['HH:MM', 'mm:ss'] as const;
/** What two numbers with a colon mean: hour and minute, or minute and second. */
export type ClockForm = (typeof CLOCK_FORMS)[number];

export const DECIMAL_MARKS = ['.', ','] as const;
export type DecimalMark = (typeof DECIMAL_MARKS)[number];

/** How a file is to be read. What is missing is found from the file, or asked for where it can be read in two ways. */
export interface CsvOptions {
  readonly loggerId: string;
  readonly channel: Channel;
  /** Column by name or 1-based number; `Date+Time` joins two. Default: `time`, else the only column of times. */
  readonly time?: string | undefined;
  /** Column by name or 1-based number. Default: `value`, `pressure_bar` and the like, else the only column of numbers. */
  readonly value?: string | undefined;
  /** Unit of the values. Default: the one in the column's name, then `defaultUnit`. */
  readonly unit?: string | undefined;
  /** Unit that the logger's channel is set to, for columns whose name says none. Default: the channel's canonical one. */
  readonly defaultUnit?: string | undefined;
  /** IANA zone of times without an offset. */
  readonly zone?: string | undefined;
  /** Local day on which a file of times of day starts, `2026-05-04`; with an hour for `mm:ss` files, `2026-05-04T14`. */
  readonly date?: string | undefined;
  readonly dateOrder?: DateOrder | undefined;
  readonly clockForm?: ClockForm | undefined;
  readonly decimal?: DecimalMark | undefined;
  readonly delimiter?: Delimiter | undefined;
}

const COLUMN_NAME_LENGTH = 200;
const START_DATE = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2})(?::00(?::00)?)?)?$/;

/** Midnight (or the hour given) of the start date, as the wall clock's reading in epoch milliseconds. */
export function startWallMs(date: string): number | undefined {
  const match = START_DATE.exec(date);
  if (!match) return undefined;
  return parseRfc3339(`${match[1]}T${match[2] ?? '00'}:00:00Z`);
}

/** Throws one Problem `option_wrong` that tells all wrong options together. */
export function checkCsvOptions(options: CsvOptions): void {
  const wrong: string[] = [];
  const refuse = (name: string, value: string, example: string) =>
    wrong.push(`${name} is ${excerpt(value)}; valid: ${example}`);
  const oneOf = (name: string, value: string | undefined, valid: readonly string[]) => {
    if (value !== undefined && !valid.includes(value))
      refuse(name, value, valid.map((v) => JSON.stringify(v)).join(', '));
  };
  if (!isLoggerId(options.loggerId)) refuse('logger', options.loggerId, 'front-hall (1 to 64 of a-z 0-9 - _)');
  if (!isChannel(options.channel)) refuse('channel', options.channel, CHANNELS.join(', '));
  for (const name of ['unit', 'defaultUnit'] as const) {
    const unit = options[name];
    if (unit !== undefined && isChannel(options.channel) && !isUnitOf(options.channel, unit)) {
      refuse(name === 'unit' ? 'unit' : "the logger's unit", unit, UNITS[options.channel].join(', '));
    }
  }
  for (const name of ['time', 'value'] as const) {
    const column = options[name];
    if (column !== undefined && (column.trim() === '' || column.length > COLUMN_NAME_LENGTH)) {
      refuse(name, column, `a column's name of at most ${COLUMN_NAME_LENGTH} characters, or its number: 2`);
    }
  }
  if (options.zone !== undefined && !isTimeZone(options.zone)) refuse('zone', options.zone, 'Europe/London, UTC');
  if (options.date !== undefined && startWallMs(options.date) === undefined) {
    refuse('date', options.date, '2026-05-04, or with an hour 2026-05-04T14');
  }
  oneOf('dateOrder', options.dateOrder, DATE_ORDERS);
  oneOf('clockForm', options.clockForm, CLOCK_FORMS);
  oneOf('decimal', options.decimal, DECIMAL_MARKS);
  oneOf('delimiter', options.delimiter, DELIMITERS);
  if (wrong.length === 0) return;
  throw new Problem(
    'option_wrong',
    `The file can't be imported as asked: ${wrong.join('. ')}.`,
    'Correct what is named and send the file again; nothing was stored.',
  );
}
