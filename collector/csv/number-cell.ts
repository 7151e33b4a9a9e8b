import type { DecimalMark } from './csv-options.ts';

/** What a number cell tells about the decimal mark. */
export type NumberForm = 'whole' | 'dot' | 'comma' | 'grouped-comma';

const NUMBER = /^[+-]?(?:\d+([.,]?)\d*|([.,])\d+)(?:[eE][+-]?\d{1,3})?$/;
/** `1,482` can be one and a half or nearly fifteen hundred; `0,482` and `1,48` only the former. */
const GROUPED = /^[+-]?[1-9]\d{0,2},\d{3}$/;
const ABSENT = /^(?:na|n\/a|nan|null|none|nil|-+|#n\/a|\\n)?$/i;

/** True for an empty cell and the usual words for "no value". */
export function isAbsent(cell: string): boolean {
  return ABSENT.test(cell);
}

/** The form of a trimmed cell, or undefined where it is no number (thousands separators are not read). */
export function numberForm(cell: string): NumberForm | undefined {
  const match = NUMBER.exec(cell);
  if (!match) return undefined;
  const mark = match[1] || match[2];
  if (mark === '.') return 'dot';
  if (mark === ',') return GROUPED.test(cell) ? 'grouped-comma' : 'comma';
  return 'whole';
}

/** The finite number in a trimmed cell with the given decimal mark, or undefined. */
export function parseNumber(cell: string, decimal: DecimalMark): number | undefined {
  const form = numberForm(cell);
  if (form === undefined) return undefined;
  if (form !== 'whole' && (form === 'dot') !== (decimal === '.')) return undefined;
  const value = Number(decimal === ',' ? cell.replace(',', '.') : cell);
  return Number.isFinite(value) ? value : undefined;
}

const SWITCH_WORDS: Readonly<Record<string, number>> = { true: 1, on: 1, false: 0, off: 0 };

/** 1 or 0 for the words that a pump's channel may carry (`true`, `on`, `false`, `off`, any case). */
export function parseSwitch(cell: string): number | undefined {
  return SWITCH_WORDS[cell.toLowerCase()];
}
