import type { PlannedDraw } from './household.ts';
import type { OpenOutlets } from './plumbing.ts';
import { MOST_OPEN_OUTLETS } from './plumbing.ts';

interface OpenDraw {
  readonly draw: PlannedDraw;
  litres: number;
  /** When its tap begins to close; known beforehand for draws that end by time. */
  closeMs: number;
  lastFlowLpm: number;
}

/** A cistern's float valve throttles over this last share of the filling, down to this opening. */
const FLOAT_THROTTLES_FROM = 0.3;
const FLOAT_LEAST_OPENING = 0.08;

/** Which outlets are open, how far, and when each closes. Moved on by its owner; draws arrive in order of their start. */
export class OpenDraws {
  private readonly waiting: PlannedDraw[] = [];
  private active: OpenDraw[] = [];
  /** Flow that each just-closed outlet cut off, as a speed of change: what makes the pipe ring. */
  lastShut: { atMs: number; lpmPerSecond: number } | undefined;

  plan(draws: readonly PlannedDraw[]): void {
    this.waiting.push(...draws);
    this.waiting.sort((a, b) => a.startMs - b.startMs);
  }

  /** True where an outlet is open or opens before `toMs`. */
  busyBefore(toMs: number): boolean {
    return this.active.length > 0 || (this.waiting.length > 0 && this.waiting[0]!.startMs < toMs);
  }

  /** Writes what is open at `atMs` into `open`. */
  openAt(atMs: number, open: OpenOutlets): void {
    while (this.waiting.length > 0 && this.waiting[0]!.startMs < atMs) {
      const draw = this.waiting.shift()!;
      const closeMs =
        draw.limit.kind === 'seconds' ? draw.startMs + draw.limit.seconds * 1000 : Number.POSITIVE_INFINITY;
      if (this.active.length < MOST_OPEN_OUTLETS) this.active.push({ draw, litres: 0, closeMs, lastFlowLpm: 0 });
    }
    let kept = 0;
    open.count = 0;
    for (const one of this.active) {
      const opening = openingAt(one, atMs);
      if (opening <= 0 && atMs > one.closeMs) {
        this.lastShut = { atMs: one.closeMs + one.draw.closeS * 1000, lpmPerSecond: one.lastFlowLpm / one.draw.closeS };
        continue;
      }
      this.active[kept++] = one;
      open.coefficient[open.count] = one.draw.coefficient * opening;
      open.heightBar[open.count] = one.draw.heightBar;
      open.count++;
    }
    this.active.length = kept;
  }

  /** Counts what ran through each open outlet over the `seconds` before `atMs`, and lets full ones close. */
  ran(atMs: number, seconds: number, bar: number): void {
    for (const one of this.active) {
      const { draw } = one;
      const opening = openingAt(one, atMs);
      const flow = draw.coefficient * opening * Math.sqrt(Math.max(0, bar - draw.heightBar));
      if (atMs <= one.closeMs) one.lastFlowLpm = flow;
      one.litres += (flow * seconds) / 60;
      if (one.closeMs !== Number.POSITIVE_INFINITY) continue;
      const full = draw.limit.kind === 'litres' && one.litres >= draw.limit.litres;
      if (full || atMs - draw.startMs > draw.mostSeconds * 1000) one.closeMs = atMs;
    }
  }
}

function openingAt(one: OpenDraw, atMs: number): number {
  const { draw } = one;
  let opening = Math.min(1, Math.max(0, (atMs - draw.startMs) / (draw.openS * 1000)));
  if (atMs > one.closeMs) opening *= Math.max(0, 1 - (atMs - one.closeMs) / (draw.closeS * 1000));
  if (draw.floatValve && draw.limit.kind === 'litres') {
    const left = 1 - one.litres / draw.limit.litres;
    if (left < FLOAT_THROTTLES_FROM) opening *= Math.max(FLOAT_LEAST_OPENING, left / FLOAT_THROTTLES_FROM);
  }
  return opening;
}
