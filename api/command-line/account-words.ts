/** Longest list of single findings in an account; the rest is counted, and the JSON holds them all. */
const LISTED = 12;

export function listed<T>(all: readonly T[], line: (entry: T) => string): string[] {
  const lines = all.slice(0, LISTED).map((entry) => `- ${line(entry)}`);
  if (all.length > LISTED) lines.push(`- and ${all.length - LISTED} more, all of them with --json`);
  return lines;
}

export function bar(value: number): string {
  return `${value
    .toFixed(2)
    .replace(/^-(?=0\.00$)/, '')
    .replace('-', '\u2212')} bar`;
}

export function count(number: number, noun: string): string {
  return `${number.toLocaleString('en-GB')} ${noun}${number === 1 ? '' : 's'}`;
}
