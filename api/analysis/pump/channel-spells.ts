import { firstAfter, type PumpRows } from './pump-rows.ts';
import type { PumpRun } from './pump-run.ts';

/** A stretch without a gap in which a pump's channel says on, in epoch milliseconds, half open. */
export interface OnSpell {
  readonly startMs: number;
  readonly endMs: number;
  /** A row that says off came just before it, or just after it; false at a gap and at the log's ends. */
  readonly startSeen: boolean;
  readonly stopSeen: boolean;
}

/** Rows of a channel further apart than this hide what the pump did between them. */
export function longestChannelStepMs(intervalMs: number): number {
  return Math.max(3.5 * intervalMs, 10_000);
}

/** All stretches in which the channel says on, also those whose start or stop isn't seen. Linear time. */
export function onSpells(timeMs: Float64Array, pumpOn: Float64Array, intervalMs: number): OnSpell[] {
  const longestStepMs = longestChannelStepMs(intervalMs);
  const spells: OnSpell[] = [];
  let open: { startMs: number; startSeen: boolean } | undefined;
  let wasOn: boolean | undefined;
  let lastMs = Number.NEGATIVE_INFINITY;
  const close = (endMs: number, stopSeen: boolean): void => {
    if (open) spells.push({ ...open, endMs, stopSeen });
    open = undefined;
  };
  for (let i = 0; i < timeMs.length; i++) {
    if (Number.isNaN(pumpOn[i]!)) continue;
    const at = timeMs[i]!;
    const on = pumpOn[i]! >= 0.5;
    if (at - lastMs > longestStepMs) {
      close(lastMs + intervalMs, false);
      wasOn = undefined;
    }
    if (on) open ??= { startMs: at, startSeen: wasOn === false };
    else close(at, true);
    wasOn = on;
    lastMs = at;
  }
  close(lastMs + intervalMs, false);
  return spells;
}

/**
 * Every stretch in which the pump ran, for judging what it did meanwhile: runs that started before they were seen, and
 * unseen stops put where the channel fell silent.
 * @param runs those with a start that was seen
 */
export function runsWithCutOnes(runs: readonly PumpRun[], spells: readonly OnSpell[], rows: PumpRows): PumpRun[] {
  const rowAt = rowFinder(rows.timeMs);
  const stops = new Map(spells.map((spell) => [spell.startMs, spell]));
  const ended = runs.map((run): PumpRun => {
    const spell = run.stopMs === undefined ? stops.get(run.startMs) : undefined;
    if (!spell) return run;
    return { ...run, stopMs: spell.endMs, stopRow: rowAt(spell.endMs - 1), stopUnseen: true };
  });
  const cut = spells
    .filter(({ startSeen }) => !startSeen)
    .map(
      ({ startMs, endMs, stopSeen }): PumpRun => ({
        startMs,
        startRow: rowAt(startMs),
        stopMs: endMs,
        stopRow: rowAt(endMs - 1),
        startUnseen: true,
        ...(stopSeen ? {} : { stopUnseen: true }),
      }),
    );
  return cut.length === 0 ? ended : [...ended, ...cut].sort((a, b) => a.startMs - b.startMs);
}

/** The last row at or before a time; the first where there is none. */
function rowFinder(timeMs: Float64Array): (atMs: number) => number {
  return (atMs) => Math.max(0, firstAfter(timeMs, atMs) - 1);
}
