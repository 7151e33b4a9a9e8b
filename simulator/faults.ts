import { RandomStream } from './random.ts';
import type { FaultPlan } from './scenario.ts';

/** Rows of a file in order of arrival, as columns of one length. */
export interface Rows {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
  readonly pumpOn: Float64Array | undefined;
  readonly inletBar: Float64Array | undefined;
}

/** A fault as it stands in the file: in logged time, half open, except that a spike and a step are an instant. */
export interface FaultLabel {
  readonly kind: 'gap' | 'stuck' | 'spike' | 'out_of_range' | 'offset_step' | 'clock_jump' | 'duplicate' | 'late';
  readonly startMs: number;
  readonly endMs: number;
}

/**
 * What arrives of clean rows (regular, ascending) when these things go wrong, where each stands in the file, and when each
 * row truly arrives. Only the pressure channel's values are hurt; times and order are hurt for whole rows.
 */
export function withFaults(
  rows: Rows,
  plans: readonly FaultPlan[],
  intervalS: number,
  stampJitterMs: number,
  seed: number,
): { rows: Rows; labels: FaultLabel[]; arrivedMs: Float64Array } {
  const random = new RandomStream(seed, 'faults');
  const timeMs = Float64Array.from(rows.timeMs);
  const pressureBar = Float64Array.from(rows.pressureBar);
  const firstMs = timeMs[0] ?? 0;
  const stepMs = intervalS * 1000;
  const indexAt = (ms: number): number => Math.max(0, Math.min(timeMs.length, Math.ceil((ms - firstMs) / stepMs)));
  const cleanTime = (index: number): number => firstMs + index * stepMs;
  const labels: FaultLabel[] = [];
  const dropped = new Uint8Array(timeMs.length);
  const again: { from: number; to: number }[] = [];
  const moved: { from: number; to: number; after: number }[] = [];
  const swapped: { from: number; to: number }[] = [];

  for (const plan of plans) {
    switch (plan.kind) {
      case 'offset_step': {
        const from = indexAt(plan.atMs);
        for (let i = from; i < pressureBar.length; i++) pressureBar[i]! += plan.byBar;
        labels.push({ kind: 'offset_step', startMs: cleanTime(from), endMs: cleanTime(from) });
        break;
      }
      case 'spike': {
        const at = indexAt(plan.atMs);
        if (at >= pressureBar.length) break;
        pressureBar[at] = Math.max(0, pressureBar[at]! + plan.byBar);
        labels.push({ kind: 'spike', startMs: cleanTime(at), endMs: cleanTime(at) });
        break;
      }
      case 'stuck':
      case 'out_of_range': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        const held = plan.bar ?? pressureBar[Math.max(0, from - 1)]!;
        pressureBar.fill(held, from, to);
        labels.push({ kind: plan.kind, startMs: cleanTime(from), endMs: cleanTime(to) });
        break;
      }
      case 'gap': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        dropped.fill(1, from, to);
        labels.push({ kind: 'gap', startMs: cleanTime(from), endMs: cleanTime(to) });
        break;
      }
      case 'clock_jump': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        for (let i = from; i < to; i++) timeMs[i]! += plan.byMs;
        // From the last right stamp to the last wrong one.
        const lastRight = cleanTime(Math.max(0, from - 1));
        const lastWrong = cleanTime(to - 1) + plan.byMs;
        labels.push({
          kind: 'clock_jump',
          startMs: Math.min(lastRight, lastWrong),
          endMs: Math.max(lastRight, lastWrong),
        });
        break;
      }
      case 'duplicate': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        again.push({ from, to });
        labels.push({ kind: 'duplicate', startMs: cleanTime(from), endMs: cleanTime(to) });
        break;
      }
      case 'late': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        moved.push({ from, to, after: indexAt(plan.endMs + plan.delayS * 1000) });
        labels.push({ kind: 'late', startMs: cleanTime(from), endMs: cleanTime(to) });
        break;
      }
      case 'out_of_order': {
        const from = indexAt(plan.startMs);
        const to = indexAt(plan.endMs);
        swapped.push({ from, to });
        labels.push({ kind: 'late', startMs: cleanTime(from), endMs: cleanTime(to) });
        break;
      }
      default:
        plan satisfies never;
    }
  }
  if (stampJitterMs > 0) {
    const most = Math.min(stampJitterMs, stepMs - 1);
    for (let i = 0; i < timeMs.length; i++) timeMs[i]! += random.integer(1, most);
  }

  const order: number[] = [];
  const held = new Map<number, { from: number; to: number }[]>();
  const isMoved = new Uint8Array(timeMs.length);
  for (const batch of moved) {
    isMoved.fill(1, batch.from, batch.to);
    held.set(batch.after, [...(held.get(batch.after) ?? []), batch]);
  }
  const push = (from: number, to: number): void => {
    for (let i = from; i < to; i++) if (!dropped[i]) order.push(i);
  };
  const repeats = new Map(again.map((batch) => [batch.to, batch]));
  for (let i = 0; i <= timeMs.length; i++) {
    for (const batch of held.get(i) ?? []) push(batch.from, batch.to);
    const repeat = repeats.get(i);
    if (repeat) push(repeat.from, repeat.to);
    if (i < timeMs.length && !isMoved[i]) push(i, i + 1);
  }
  const place = new Map<number, number>();
  if (swapped.length > 0) for (const [position, row] of order.entries()) place.set(row, position);
  for (const { from, to } of swapped) {
    for (let i = from; i + 1 < to; i += 2) {
      const a = place.get(i);
      const b = place.get(i + 1);
      if (a === undefined || b === undefined || !random.chance(0.6)) continue;
      order[a] = i + 1;
      order[b] = i;
    }
  }
  const pickBy = (column: Float64Array | undefined): Float64Array | undefined =>
    column && Float64Array.from(order, (row) => column[row]!);
  labels.sort((a, b) => a.startMs - b.startMs);
  // A row arrives when it was taken, or with the latest of those that came before it.
  let latestMs = Number.NEGATIVE_INFINITY;
  const arrivedMs = Float64Array.from(order, (row) => {
    latestMs = Math.max(latestMs, cleanTime(row));
    return latestMs;
  });
  return {
    arrivedMs,
    rows: {
      timeMs: pickBy(timeMs)!,
      pressureBar: pickBy(pressureBar)!,
      flowLpm: pickBy(rows.flowLpm),
      pumpOn: pickBy(rows.pumpOn),
      inletBar: pickBy(rows.inletBar),
    },
    labels,
  };
}

/** Spells in which the pressure column says nothing about the truth at that time. */
export function blindSpells(plans: readonly FaultPlan[]): { startMs: number; endMs: number }[] {
  const spells: { startMs: number; endMs: number }[] = [];
  for (const plan of plans) {
    if (plan.kind === 'gap' || plan.kind === 'stuck' || plan.kind === 'out_of_range' || plan.kind === 'clock_jump') {
      spells.push({ startMs: plan.startMs, endMs: plan.endMs });
    }
  }
  return spells.sort((a, b) => a.startMs - b.startMs);
}
