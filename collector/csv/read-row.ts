import type { Channel } from '../model/channel.ts';
import { formatRfc3339 } from '../model/instant.ts';
import { type EpochMs, toNineSignificantDigits } from '../model/units.ts';
import type { Layout } from './columns.ts';
import type { CsvRow } from './csv-tokens.ts';
import { excerpt } from './excerpt.ts';
import { isAbsent, numberForm, parseNumber, parseSwitch } from './number-cell.ts';
import { createTimeReader } from './read-time.ts';
import type { PassOfRow } from './repeated-hour.ts';
import { type ReadingRules, timeText } from './survey.ts';
import type { WallClock } from './wall-clock.ts';

export type RowReading =
  | { readonly kind: 'sample'; readonly atMs: EpochMs; readonly value: number }
  | { readonly kind: 'refused'; readonly reason: string };

/** Plausible times, as for messages: from here to arrival and a day. */
const EARLIEST_MS = Date.UTC(2000, 0, 1);
const AHEAD_MS = 86_400_000;

export interface RowReaderInput {
  readonly layout: Layout;
  readonly rules: ReadingRules;
  readonly channel: Channel;
  readonly clock: WallClock;
  readonly passOfRow: PassOfRow;
  readonly nowMs: EpochMs;
}

/** Reads rows in the order of the file (times of day roll over), each to a sample or the reason why it is none. */
export function createRowReader(input: RowReaderInput): (row: CsvRow) => RowReading {
  const { layout, rules, channel, clock, passOfRow, nowMs } = input;
  const readTime = createTimeReader(rules);
  const width = layout.headerWidth ?? Number.POSITIVE_INFINITY;

  const readInstant = (text: string, line: number): number | string => {
    const time = readTime(text);
    switch (time.kind) {
      case 'refused':
        return time.reason;
      case 'instant':
        return time.atMs;
      case 'wall': {
        const reading = clock.instants(time.wallMs);
        if (reading.kind === 'one') return reading.atMs;
        if (reading.kind === 'skipped') {
          return `the time ${excerpt(text)} doesn't exist in ${rules.zone}: the clock was put forward over it (for a logger that keeps winter time all year give a zone such as Etc/GMT-1)`;
        }
        const pass = passOfRow(reading.span, line);
        if (pass === 'first') return reading.firstMs;
        if (pass === 'second') return reading.secondMs;
        return `the time ${excerpt(text)} occurs twice in ${rules.zone}, when the clock is put back, and the order of rows doesn't tell which it is`;
      }
      default:
        return time satisfies never;
    }
  };

  return (row) => {
    if (row.cells.length > width && row.cells.slice(width).some((cell) => cell.trim() !== '')) {
      return refuse(
        `the row has ${row.cells.length} fields where the header has ${width} (a comma as decimal mark needs quotes or another delimiter)`,
      );
    }
    const atMs = readInstant(timeText(row.cells, layout), row.line);
    if (typeof atMs === 'string') return refuse(atMs);
    if (atMs < EARLIEST_MS || atMs > nowMs + AHEAD_MS) {
      return refuse(`the time ${formatSafely(atMs)} isn't between 2000-01-01 and a day from now`);
    }
    const value = readValue(row.cells[layout.valueColumn], layout, rules, channel);
    return typeof value === 'string' ? refuse(value) : { kind: 'sample', atMs, value };
  };
}

function readValue(raw: string | undefined, layout: Layout, rules: ReadingRules, channel: Channel): number | string {
  if (raw === undefined) return `the row ends before column ${layout.valueColumn + 1}, the value`;
  const cell = raw.trim();
  if (isAbsent(cell)) return cell === '' ? 'the row has no value' : `the value is ${excerpt(cell)}: no reading`;
  const number = parseNumber(cell, rules.decimal) ?? (channel === 'pump' ? parseSwitch(cell) : undefined);
  if (number === undefined) {
    const otherMark = numberForm(cell) !== undefined;
    return otherMark
      ? `the value ${excerpt(cell)} isn't a number with ${rules.decimal === '.' ? 'a decimal point' : 'a decimal comma'} as the file is read`
      : `the value ${excerpt(cell)} is no number`;
  }
  if (channel === 'pump' && number !== 0 && number !== 1) return `the value ${excerpt(cell)} is neither 0 nor 1`;
  return toNineSignificantDigits(number);
}

function formatSafely(atMs: number): string {
  return Math.abs(atMs) <= 8.64e15 ? formatRfc3339(atMs) : 'given';
}

function refuse(reason: string): RowReading {
  return { kind: 'refused', reason };
}
