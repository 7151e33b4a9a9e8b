import type { SiteTime } from '../site-time.ts';

/*
 * Where the time axis is divided and what it says there, in the site's zone. Below a day steps are counted on the
 * wall clock, so that "06:00" stays "06:00" on a day of 23 or 25 hours; from a day on they are local midnights.
 */

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

type Step =
  | { readonly kind: 'clock'; readonly ms: number }
  | { readonly kind: 'days'; readonly days: number }
  | { readonly kind: 'months'; readonly months: number };

const STEPS: readonly Step[] = [
  ...[1, 2, 5, 10, 15, 30].map((s) => ({ kind: 'clock' as const, ms: s * SECOND })),
  ...[1, 2, 5, 10, 15, 30].map((m) => ({ kind: 'clock' as const, ms: m * MINUTE })),
  ...[1, 2, 3, 6, 12].map((h) => ({ kind: 'clock' as const, ms: h * HOUR })),
  ...[1, 2, 7, 14].map((days) => ({ kind: 'days' as const, days })),
  ...[1, 2, 3, 6, 12].map((months) => ({ kind: 'months' as const, months })),
];

export interface AxisSplit {
  readonly atMs: number;
  readonly label: string;
  /** True where a local day (or month) starts: drawn a little stronger. */
  readonly major: boolean;
}

function lengthMs(step: Step): number {
  switch (step.kind) {
    case 'clock':
      return step.ms;
    case 'days':
      return step.days * DAY;
    case 'months':
      return step.months * 30 * DAY;
    default:
      return step satisfies never;
  }
}

/** Splits of [fromMs, toMs], ascending, at most `mostSplits` of them where any step can keep to that. */
export function axisSplits(fromMs: number, toMs: number, mostSplits: number, time: SiteTime): AxisSplit[] {
  const wanted = (toMs - fromMs) / Math.max(1, mostSplits);
  const step = STEPS.find((candidate) => lengthMs(candidate) >= wanted) ?? STEPS.at(-1)!;
  switch (step.kind) {
    case 'clock':
      return clockSplits(fromMs, toMs, step.ms, time);
    case 'days':
      return dateSplits(fromMs, toMs, time, (_date, dayNumber) => dayNumber % step.days === 0);
    case 'months':
      return dateSplits(
        fromMs,
        toMs,
        time,
        (date) => date.endsWith('-01') && (Number(date.slice(5, 7)) - 1) % step.months === 0,
      );
    default:
      return step satisfies never;
  }
}

function clockSplits(fromMs: number, toMs: number, stepMs: number, time: SiteTime): AxisSplit[] {
  const splits: AxisSplit[] = [];
  for (const day of time.daysBetween(fromMs, toMs + 1)) {
    const midnightWall = Date.parse(`${day.date}T00:00:00Z`);
    // By stretches of one offset: what the spring change skips is never shown, what the autumn change repeats is twice.
    for (const stretch of time.stretchesOf(day)) {
      const shift = stretch.offsetMinutes * MINUTE - midnightWall;
      const start = Math.max(fromMs, stretch.startMs);
      for (let wall = Math.ceil((start + shift) / stepMs) * stepMs; ; wall += stepMs) {
        const atMs = wall - shift;
        if (atMs >= stretch.endMs || atMs > toMs) break;
        splits.push({ atMs, label: clockLabel(atMs, stepMs, time), major: wall === 0 });
      }
    }
  }
  return splits;
}

function dateSplits(
  fromMs: number,
  toMs: number,
  time: SiteTime,
  wanted: (date: string, dayNumber: number) => boolean,
): AxisSplit[] {
  const splits: AxisSplit[] = [];
  for (const day of time.daysBetween(fromMs, toMs + 1)) {
    // 1970-01-05 was a Monday: weekly steps fall on Mondays.
    const dayNumber = Math.round(Date.parse(`${day.date}T00:00:00Z`) / DAY) - 4;
    if (day.startMs < fromMs || day.startMs > toMs || !wanted(day.date, dayNumber)) continue;
    splits.push({ atMs: day.startMs, label: dateLabel(day.date), major: day.date.endsWith('-01') });
  }
  return splits;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

function dateLabel(date: string): string {
  const month = MONTHS[Number(date.slice(5, 7)) - 1]!;
  if (date.endsWith('-01-01')) return `${month}\n${date.slice(0, 4)}`;
  return date.endsWith('-01') ? `1 ${month}` : `${Number(date.slice(8))} ${month}`;
}

function clockLabel(atMs: number, stepMs: number, time: SiteTime): string {
  const { hour, minute, second, date } = time.parts(atMs);
  const two = (value: number) => String(value).padStart(2, '0');
  const text = `${two(hour)}:${two(minute)}`;
  if (stepMs < MINUTE) return `${text}:${two(second)}`;
  return hour === 0 && minute === 0 ? `${text}\n${dateLabel(date).replace('\n', ' ')}` : text;
}

/** Starts and ends of the hours that count as night, clipped to the span, for shading. */
export function nightSpans(
  fromMs: number,
  toMs: number,
  night: { readonly fromHour: number; readonly toHour: number },
  time: SiteTime,
): { fromMs: number; toMs: number }[] {
  const spans: { fromMs: number; toMs: number }[] = [];
  const push = (start: number, end: number) => {
    const clipped = { fromMs: Math.max(fromMs, start), toMs: Math.min(toMs, end) };
    const last = spans.at(-1);
    if (clipped.toMs <= clipped.fromMs) return;
    if (last && last.toMs >= clipped.fromMs) spans[spans.length - 1] = { fromMs: last.fromMs, toMs: clipped.toMs };
    else spans.push(clipped);
  };
  for (const day of time.daysBetween(fromMs, toMs)) {
    push(day.startMs, time.instantOf(day.date, night.toHour, 0));
    push(time.instantOf(day.date, night.fromHour, 0), day.endMs);
  }
  return spans;
}
