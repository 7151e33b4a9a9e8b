import type { RepeatedSpan, WallClock } from './wall-clock.ts';

/*
 * In autumn a zone's clock shows one stretch (mostly an hour) twice. Times without an offset don't say which pass they
 * belong to; the order of the rows does, where the clock visibly steps back within the stretch, or where the rows join
 * on to those on one side only. Where neither holds, the rows of that stretch are refused, never put at the first pass
 * by habit.
 */

/** Which of the two passes a row in a repeated span belongs to; undefined where the order of rows doesn't tell. */
export type PassOfRow = (span: RepeatedSpan, line: number) => 'first' | 'second' | undefined;

export interface RepeatedHourScan {
  /** One row with a wall time, in the order of the file. */
  add(wallMs: number, line: number): void;
  settle(): PassOfRow;
}

interface SpanEvidence {
  rows: number;
  distinct: boolean;
  firstLine: number;
  lastLine: number;
  previousMs: number;
  /** Steps against the direction of the file, largest kept apart; further ones only counted by size. */
  readonly stepsBack: { line: number; sizeMs: number }[];
  /** Wall step from the row before the span into it, and out of it to the row after; undefined at the file's ends. */
  entryMs: number | undefined;
  exitMs: number | undefined;
  /** From this line on the file has gone past the span. */
  exitLine: number | undefined;
}

/** A span in which the clock steps back more often than this is disorder, not a change of the clock. */
const MAX_STEPS_BACK = 50;
/** A step back of at most this share of the span is a late row. */
const LATE_SHARE = 0.1;
/** Rows join where the step between them is at most this many typical steps. */
const JOINING_STEPS = 3;
const STEPS_FOR_TYPICAL = 1001;

export function createRepeatedHourScan(clock: WallClock): RepeatedHourScan {
  const spans = new Map<number, SpanEvidence>();
  const steps: number[] = [];
  let forward = 0;
  let backward = 0;
  let previousMs: number | undefined;
  let open: { span: RepeatedSpan; evidence: SpanEvidence }[] = [];

  return {
    add(wallMs, line) {
      const stepMs = previousMs === undefined ? undefined : wallMs - previousMs;
      if (stepMs !== undefined && stepMs !== 0) {
        if (stepMs > 0) forward++;
        else backward++;
        if (steps.length < STEPS_FOR_TYPICAL) steps.push(Math.abs(stepMs));
      }
      const descending = backward > forward;
      const reading = clock.instants(wallMs);
      if (reading.kind === 'two') {
        const evidence = spans.get(reading.span.fromWallMs);
        if (evidence === undefined) {
          const made: SpanEvidence = {
            rows: 1,
            distinct: false,
            firstLine: line,
            lastLine: line,
            previousMs: wallMs,
            stepsBack: [],
            entryMs: stepMs,
            exitMs: undefined,
            exitLine: undefined,
          };
          spans.set(reading.span.fromWallMs, made);
          open.push({ span: reading.span, evidence: made });
        } else if (evidence.exitLine === undefined) {
          const back = descending ? wallMs - evidence.previousMs : evidence.previousMs - wallMs;
          if (back > 0 && evidence.stepsBack.length <= MAX_STEPS_BACK) evidence.stepsBack.push({ line, sizeMs: back });
          if (back !== 0) evidence.distinct = true;
          evidence.rows++;
          evidence.lastLine = line;
          evidence.previousMs = wallMs;
        }
      } else if (open.length > 0) {
        open = open.filter(({ span, evidence }) => {
          const past = descending ? wallMs < span.fromWallMs : wallMs >= span.toWallMs;
          if (!past) return true;
          evidence.exitLine = line;
          evidence.exitMs = Math.abs(wallMs - evidence.previousMs);
          return false;
        });
      }
      previousMs = wallMs;
    },
    settle() {
      const descending = backward > forward;
      const typicalMs = steps.sort((a, b) => a - b)[steps.length >> 1];
      const settled = new Map<number, { splitLine: number; exitLine: number | undefined } | undefined>();
      for (const [fromWallMs, evidence] of spans) {
        const spanMs = spanLength(clock, fromWallMs);
        const splitLine = splitOf(evidence, spanMs, typicalMs);
        settled.set(fromWallMs, splitLine === undefined ? undefined : { splitLine, exitLine: evidence.exitLine });
      }
      return (span, line) => {
        const found = settled.get(span.fromWallMs);
        if (found === undefined || (found.exitLine !== undefined && line > found.exitLine)) return undefined;
        const before = line < found.splitLine;
        return before === descending ? 'second' : 'first';
      };
    },
  };
}

function spanLength(clock: WallClock, fromWallMs: number): number {
  const span = clock.repeatedSpans(fromWallMs, fromWallMs)[0]!;
  return span.toWallMs - span.fromWallMs;
}

/** The line at which the other pass begins; a line after the last (or the first) where only one pass is there. */
function splitOf(evidence: SpanEvidence, spanMs: number, typicalMs: number | undefined): number | undefined {
  const real = evidence.stepsBack.filter((step) => step.sizeMs > spanMs * LATE_SHARE);
  if (real.length > 1 || evidence.stepsBack.length > MAX_STEPS_BACK) return undefined;
  if (real.length === 1) return real[0]!.line;
  // A log at the span's own length shows one and the same time twice.
  if (evidence.rows === 2 && !evidence.distinct && typicalMs !== undefined && typicalMs >= spanMs)
    return evidence.lastLine;
  if (typicalMs === undefined) return undefined;
  const joins = (stepMs: number | undefined) => stepMs !== undefined && Math.abs(stepMs) <= typicalMs * JOINING_STEPS;
  const entryJoins = joins(evidence.entryMs);
  const exitJoins = joins(evidence.exitMs);
  if (entryJoins === exitJoins) return undefined;
  // Rows that join on to the row before them in the file are of that side's pass, all of them.
  return entryJoins ? Number.POSITIVE_INFINITY : evidence.firstLine;
}
