import type {
  Change,
  Cycling,
  Draw,
  Fault,
  FaultKind,
  FindingsDocument,
  LowSupply,
  PumpStart,
  PumpState,
  Sag,
  WeakInlet,
} from '../../api/analysis/findings.ts';
import type { LocalDay, SiteTime } from '../site-time.ts';

/** Findings of one local day: everything that touches it. */
export interface DayEntry {
  readonly day: LocalDay;
  readonly sags: readonly Sag[];
  readonly lowSupply: readonly LowSupply[];
  readonly draws: readonly Draw[];
  readonly pumpStarts: readonly PumpStart[];
  readonly cycling: readonly Cycling[];
  readonly weakInlet: readonly WeakInlet[];
  readonly pumpStates: readonly PumpState[];
  readonly faults: readonly Fault[];
  readonly changes: readonly Change[];
  /** Share of the expected samples that are there and usable; undefined where the day isn't covered at all. */
  readonly validFraction: number | undefined;
  /** The log starts or ends inside this day, so that it can't be whole. */
  readonly partial: boolean;
  /** Nothing but ordinary life: told in one line. */
  readonly quiet: boolean;
}

/** Faults that a reader of the diary should know of; the others are the collector's daily bread. */
const TOLD_FAULTS: ReadonlySet<FaultKind> = new Set([
  'gap',
  'stuck',
  'out_of_range',
  'offset_step',
  'clock_jump',
] as const);

/** Below this share of usable samples a day says what is missing: an hour and a quarter of the day. */
export const WHOLE_DAY_FRACTION = 0.95;

/** The days of a findings document, newest first. Empty where nothing is logged. */
export function dayEntries(findings: FindingsDocument, time: SiteTime): DayEntry[] {
  const { start, end } = findings.series;
  if (start === null || end === null) return [];
  const fromMs = Date.parse(start);
  const toMs = Math.max(Date.parse(end), fromMs + 1);
  const days = time.daysBetween(fromMs, toMs).filter((day) => day.endMs > fromMs);
  const byDate = new Map(days.map((day, index) => [day.date, index]));

  function spread<T>(items: readonly T[], interval: (item: T) => readonly [string, string]): T[][] {
    const buckets: T[][] = days.map(() => []);
    for (const item of items) {
      const [from, to] = interval(item);
      const first = byDate.get(time.parts(Date.parse(from)).date);
      // Half open: what ends at midnight doesn't touch the next day.
      const last = byDate.get(time.parts(Math.max(Date.parse(from), Date.parse(to) - 1)).date);
      for (let index = first ?? 0; index <= (last ?? first ?? -1); index++) buckets[index]?.push(item);
    }
    return buckets;
  }
  const ofInterval = (item: { start: string; end: string }) => [item.start, item.end] as const;

  const lowSupply = spread(findings.lowSupply, ofInterval);
  const draws = spread(findings.draws, (draw) => [draw.start, draw.start]);
  const pumpStarts = spread(findings.pumpStarts, (item) => [item.start, item.start]);
  const cycling = spread(
    findings.cycling.filter((episode) => episode.kind !== 'normal'),
    ofInterval,
  );
  const weakInlet = spread(findings.weakInlet, ofInterval);
  const pumpStates = spread(findings.pumpStates ?? [], ofInterval);
  const faults = spread(
    findings.faults.filter((fault) => TOLD_FAULTS.has(fault.kind)),
    ofInterval,
  );
  const changes = spread(findings.changes, (change) => [change.at, change.at]);
  const sags = new Map<string, Sag[]>();
  for (const sag of findings.sags) sags.set(sag.day, [...(sags.get(sag.day) ?? []), sag]);
  const coverage = new Map(findings.coverage.days.map((day) => [day.day, day]));

  return days
    .map((day, index): DayEntry => {
      const covered = coverage.get(day.date);
      const validFraction = covered && covered.expected > 0 ? covered.valid / covered.expected : undefined;
      const daySags = sags.get(day.date) ?? [];
      const partial = day.startMs < fromMs || day.endMs > toMs;
      const told =
        daySags.some((sag) => sag.state === 'present') ||
        [lowSupply, cycling, weakInlet, pumpStates, faults, changes].some((kind) => kind[index]!.length > 0) ||
        (validFraction ?? 0) < WHOLE_DAY_FRACTION;
      return {
        day,
        sags: daySags,
        lowSupply: lowSupply[index]!,
        draws: draws[index]!,
        pumpStarts: pumpStarts[index]!,
        cycling: cycling[index]!,
        weakInlet: weakInlet[index]!,
        pumpStates: pumpStates[index]!,
        faults: faults[index]!,
        changes: changes[index]!,
        validFraction,
        partial,
        quiet: !told && !partial,
      };
    })
    .reverse();
}
