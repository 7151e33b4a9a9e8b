/**
 * What is measured: each trial runs in a process of its own, does the bare work and ours by turns, and prints the two
 * medians. Only ratios within one run are compared; the absolute figures belong to the machine named beside them.
 */
export interface Trial {
  readonly name: string;
  readonly file: string;
  readonly arguments?: readonly string[];
  readonly bare: string;
  readonly ours: string;
  /** The ratio ours/bare asked for, and whether it may not be exceeded or not be fallen short of. */
  readonly wanted: { readonly atMost: number } | { readonly atLeast: number } | undefined;
}

export const TRIALS: readonly Trial[] = [
  {
    name: 'findings of a week at 1 Hz',
    file: 'trial-findings.js',
    bare: 'one rolling pass of three quantiles over the same week, milliseconds',
    ours: 'all findings, milliseconds',
    wanted: { atMost: 6 },
  },
  {
    name: 'bytes a sample in the data folder, grid times',
    file: 'trial-bytes.js',
    arguments: ['noise'],
    bare: 'a SQLite row of time and whole millibars (17.2 bytes as measured), bytes',
    ours: 'eight weeks at 1 Hz with 5 mbar noise in 1 mbar steps, the whole data folder after a clean stop, bytes a sample',
    wanted: { atMost: 0.8 / 17.2 },
  },
  {
    name: 'bytes a sample in the data folder, 10-bit converter',
    file: 'trial-bytes.js',
    arguments: ['converter'],
    bare: 'a SQLite row of time and whole millibars (17.2 bytes as measured), bytes',
    ours: 'eight weeks at 1 Hz from a 10-bit converter over 0 to 10 bar, the whole data folder, bytes a sample',
    wanted: { atMost: 0.45 / 17.2 },
  },
  {
    name: 'bytes a sample in the data folder, times of arrival',
    file: 'trial-bytes.js',
    arguments: ['arrival'],
    bare: 'a SQLite row of time and whole millibars (17.2 bytes as measured), bytes',
    ours: 'eight weeks at 1 Hz of bare numbers stamped when they came (3 ms of jitter), the whole data folder, bytes a sample',
    wanted: { atMost: 1.5 / 17.2 },
  },
  {
    name: 'durable intake, embedded broker, ten samples a message',
    file: 'trial-intake.js',
    bare: 'the same broker library that throws messages away, messages a second',
    ours: 'every message committed before it is acknowledged, messages a second',
    wanted: { atLeast: 0.5 },
  },
  {
    name: 'durable intake, outside broker, ten samples a message',
    file: 'trial-intake-outside.js',
    bare: 'a subscriber of the same library that throws messages away, messages a second',
    ours: 'every message committed before it is acknowledged, messages a second',
    wanted: { atLeast: 0.7 },
  },
  {
    name: 'a thousand loggers at one reading a second, cores of the program',
    file: 'thousand-loggers.js',
    bare: 'half of one core, as wanted',
    ours: 'cores that the program used (SECONDS=600 runs ten minutes; fails where anything is refused or lost)',
    wanted: { atMost: 1 },
  },
  {
    name: 'a year at 1 Hz as 2,000 points over HTTP, from a cold start',
    file: 'trial-year.js',
    arguments: ['minutes'],
    bare: "every day's minutes read and unpacked in a fresh process, milliseconds",
    ours: 'the first request to a fresh program, milliseconds',
    wanted: { atMost: 3 },
  },
  {
    name: 'the same year against rows',
    file: 'trial-year.js',
    arguments: ['rows'],
    bare: 'GROUP BY over a SQLite row a sample in a fresh process, milliseconds',
    ours: 'the first request to a fresh program, milliseconds',
    wanted: { atMost: 0.01 },
  },
  {
    name: 'a minute inside that year, every sample',
    file: 'trial-zoom.js',
    bare: "an empty route and one block's unpacking, milliseconds",
    ours: 'the request, milliseconds',
    wanted: { atMost: 2 },
  },
  {
    name: 'that year as CSV, memory',
    file: 'trial-memory.js',
    arguments: ['export'],
    bare: 'as wanted, megabytes of growth',
    ours: 'growth of the program while every sample of the year is streamed, megabytes',
    wanted: { atMost: 1 },
  },
  {
    name: 'that year imported, memory',
    file: 'trial-memory.js',
    arguments: ['import'],
    bare: 'as wanted, megabytes of growth',
    ours: 'growth of the program while a CSV file of the year is sent to it, megabytes',
    wanted: { atMost: 1 },
  },
];

/** What a trial prints as its last line. */
export interface TrialResult {
  readonly bare: number;
  readonly ours: number;
  /** Every single figure behind the medians, in the order in which they were taken. */
  readonly raw?: Readonly<Record<string, readonly number[]>>;
  /** Of programs beyond npm's that took part, by name. */
  readonly versions?: Readonly<Record<string, string>>;
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
