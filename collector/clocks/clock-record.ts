import type { EpochMs } from '../model/units.ts';
import { type ClockEstimate, estimateClock, type LagPoint } from './estimate-clock.ts';

/** A step of a logger's clock: positive is ahead. */
export interface ClockJump {
  /** Arrival of the first message after it. */
  readonly atMs: EpochMs;
  readonly byMs: number;
}

/** A message that carried times: its arrival, and the newest of them. */
export interface TimedArrival {
  readonly arrivedMs: EpochMs;
  readonly newestMs: EpochMs;
}

/** A level that messages have left for another one, not yet believed. */
interface Candidate {
  readonly atMs: EpochMs;
  readonly lowestMs: number;
  readonly highestMs: number;
  readonly count: number;
}

/** What is known of one logger's clock. `noteArrival` changes it. */
export interface ClockRecord {
  /** The least lag of each stretch of time, ascending by arrival: short stretches of late, long ones of before. */
  points: LagPoint[];
  /** Ascending; the newest few. */
  jumps: ClockJump[];
  lastNewestMs: EpochMs | undefined;
  candidate: Candidate | undefined;
  /** Offset and drift as they were when the last stretch began, so that a message costs next to nothing. */
  known: { readonly atMs: EpochMs; readonly estimate: ClockEstimate } | undefined;
}

/** A record that begins, or goes on from what was kept of it. */
export function openClockRecord(points: readonly LagPoint[] = [], jumps: readonly ClockJump[] = []): ClockRecord {
  const record: ClockRecord = {
    points: [...points],
    jumps: [...jumps],
    lastNewestMs: undefined,
    candidate: undefined,
    known: undefined,
  };
  judge(record);
  return record;
}

const FINE_STRETCH_MS = 5 * 60_000;
const FINE_KEPT_MS = 6 * 3_600_000;
const COARSE_STRETCH_MS = 2 * 3_600_000;
/** Letters mostly tell of the last weeks; some 450 points in all. */
const KEPT_MS = 30 * 86_400_000;
/** A smaller step is no matter for hours and minutes, and delays make such. */
export const SMALLEST_JUMP_MS = 30_000;
/** A step is believed once so many messages over so long keep the new level as closely as this. */
const BELIEVED_AFTER = 3;
const BELIEVED_AFTER_MS = 60_000;
const LEVEL_WIDTH_MS = 5000;
const JUMPS_KEPT = 10;

/** Takes one more message. Messages come in order of arrival. True: a new stretch of time has begun, or a jump. */
export function noteArrival(record: ClockRecord, { arrivedMs, newestMs }: TimedArrival): boolean {
  const lagMs = arrivedMs - newestMs;
  const wentBack = record.lastNewestMs !== undefined && newestMs < record.lastNewestMs - SMALLEST_JUMP_MS;
  record.lastNewestMs = newestMs;
  const levelMs = knownLagMs(record, arrivedMs);
  if (levelMs === undefined || Math.abs(lagMs - levelMs) < SMALLEST_JUMP_MS) {
    record.candidate = undefined;
    return addPoint(record, { arrivedMs, lagMs });
  }
  const candidate = continued(record.candidate, arrivedMs, lagMs) ?? started(arrivedMs, lagMs, levelMs, wentBack);
  record.candidate = candidate;
  // Later than usual without its clock having gone back: a buffer, above the lower edge.
  if (candidate === undefined) return addPoint(record, { arrivedMs, lagMs });
  if (candidate.count < BELIEVED_AFTER || arrivedMs - candidate.atMs < BELIEVED_AFTER_MS) return false;
  record.candidate = undefined;
  record.jumps = [...record.jumps, { atMs: candidate.atMs, byMs: levelMs - candidate.lowestMs }].slice(-JUMPS_KEPT);
  record.points.push({ arrivedMs, lagMs });
  judge(record);
  return true;
}

/** The lag that messages keep since the last jump, where their clock is known. */
function knownLagMs({ known }: ClockRecord, arrivedMs: EpochMs): number | undefined {
  if (known === undefined) return undefined;
  const { offsetMs, driftPpm = 0 } = known.estimate;
  return -offsetMs - (driftPpm / 1e6) * (arrivedMs - known.atMs);
}

function judge(record: ClockRecord): void {
  const estimate = clockNow(record);
  record.known = estimate && { atMs: record.points.at(-1)!.arrivedMs, estimate };
}

function continued(candidate: Candidate | undefined, arrivedMs: EpochMs, lagMs: number): Candidate | undefined {
  if (candidate === undefined) return undefined;
  const lowestMs = Math.min(candidate.lowestMs, lagMs);
  const highestMs = Math.max(candidate.highestMs, lagMs);
  if (highestMs - lowestMs > LEVEL_WIDTH_MS) return undefined;
  return { atMs: Math.min(candidate.atMs, arrivedMs), lowestMs, highestMs, count: candidate.count + 1 };
}

/** No message arrives before it was measured, so an early one is the clock's doing; a late one only if times went back. */
function started(arrivedMs: EpochMs, lagMs: number, level: number, wentBack: boolean): Candidate | undefined {
  if (lagMs > level && !wentBack) return undefined;
  return { atMs: arrivedMs, lowestMs: lagMs, highestMs: lagMs, count: 1 };
}

function addPoint(record: ClockRecord, point: LagPoint): boolean {
  const last = record.points.at(-1);
  if (last && stretchOf(last, FINE_STRETCH_MS) === stretchOf(point, FINE_STRETCH_MS)) {
    if (point.lagMs < last.lagMs) record.points[record.points.length - 1] = point;
    return false;
  }
  record.points = thinned([...record.points, point], record.jumps, point.arrivedMs);
  judge(record);
  return true;
}

function inOneStretch(a: LagPoint, b: LagPoint): boolean {
  return stretchOf(a, COARSE_STRETCH_MS) === stretchOf(b, COARSE_STRETCH_MS);
}

function stretchOf(point: LagPoint, stretchMs: number): number {
  return Math.floor(point.arrivedMs / stretchMs);
}

/** Of each long stretch that has become old, the least lag is kept; never of two clocks together. */
function thinned(points: readonly LagPoint[], jumps: readonly ClockJump[], nowMs: EpochMs): LagPoint[] {
  const between = (a: LagPoint, b: LagPoint) => jumps.some(({ atMs }) => a.arrivedMs < atMs && atMs <= b.arrivedMs);
  const kept: LagPoint[] = [];
  for (const point of points) {
    if (point.arrivedMs < nowMs - KEPT_MS) continue;
    const before = kept.at(-1);
    const old = point.arrivedMs < nowMs - FINE_KEPT_MS;
    if (before && old && inOneStretch(before, point) && !between(before, point)) {
      if (point.lagMs < before.lagMs) kept[kept.length - 1] = point;
    } else kept.push(point);
  }
  return kept;
}

/** Offset and drift as they are now: since the last jump. */
export function clockNow(record: ClockRecord): ClockEstimate | undefined {
  const sinceMs = record.jumps.at(-1)?.atMs ?? Number.NEGATIVE_INFINITY;
  return estimateClock(record.points.filter((point) => point.arrivedMs >= sinceMs));
}

/** What the clock did during a span: the jumps, and its offset before, between and after them where it can be told. */
export function clockDuring(
  record: ClockRecord,
  fromMs: EpochMs,
  toMs: EpochMs,
): { readonly estimates: readonly (ClockEstimate | undefined)[]; readonly jumps: readonly ClockJump[] } {
  const jumps = record.jumps.filter((jump) => jump.atMs >= fromMs && jump.atMs < toMs);
  const edges = [fromMs, ...jumps.map((jump) => jump.atMs), toMs];
  const estimates = edges.slice(1).map((edge, index) => {
    const stretch = record.points.filter((point) => point.arrivedMs >= edges[index]! && point.arrivedMs < edge);
    return estimateClock(stretch);
  });
  return { estimates, jumps };
}
