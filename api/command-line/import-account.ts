import type { ImportReport } from '../../collector/csv/import-csv.ts';

const DELIMITER_WORDS: Readonly<Record<string, string>> = {
  ',': 'comma',
  ';': 'semicolon',
  '\t': 'tab',
  '|': 'vertical bar',
  ' ': 'space',
};

/** What became of a file, in words: counts, how it was read, and the rows that were refused with their lines. */
export function importAccount(report: ImportReport, channel: string, loggerId: string): string {
  const { rows, stored, duplicate, conflict, erased, refused, refusedCount, understood } = report;
  const lines = [
    `${number(rows)} ${rows === 1 ? 'row' : 'rows'}: ${number(stored)} stored as ${channel} of ${loggerId}, ${number(duplicate)} there already, ${number(refusedCount)} refused.`,
  ];
  if (conflict > 0) {
    lines.push(
      `${number(conflict)} rows have another value than the sample of the same time that is there already; that one stays.`,
    );
  }
  if (erased > 0) {
    lines.push(
      `${number(erased)} rows are of hours whose samples were erased by age, as their site is set; they were left out.`,
    );
  }
  if (understood) {
    const delimiter = DELIMITER_WORDS[understood.delimiter] ?? understood.delimiter;
    lines.push(
      `Read as: time from column ${understood.timeColumns.join(' and ')} (zone ${understood.zone} where a time carries none), value from column ${understood.valueColumn} in ${understood.unit}, delimiter ${delimiter}, decimal ${understood.decimal === ',' ? 'comma' : 'point'}.`,
    );
  }
  for (const row of refused) lines.push(`line ${row.line}: ${row.reason}`);
  if (refusedCount > refused.length) lines.push(`and ${number(refusedCount - refused.length)} more refused rows`);
  return `${lines.join('\n')}\n`;
}

function number(value: number): string {
  return value.toLocaleString('en-GB');
}
