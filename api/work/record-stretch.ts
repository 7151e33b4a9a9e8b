import type { Position } from '../../collector/model/channel.ts';
import type { Placement } from '../../collector/model/logger.ts';
import type { EpochMs } from '../../collector/model/units.ts';

/**
 * A logger's stay: one site (or none) and one position, without a break. Samples of [fromMs, toMs) belong to it and to
 * no other, so no reading of one house is ever judged with another's.
 */
export interface RecordStretch {
  readonly loggerId: string;
  /** Undefined: in nobody's house. */
  readonly siteId: string | undefined;
  readonly position: Position;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  /** Heights above the supply point in metres, ascending; the first holds from `fromMs`. */
  readonly heights: readonly { readonly fromMs: EpochMs; readonly heightM: number }[];
}

/** The stays of one logger, ascending; the last is open (`toMs` infinite). A change of height alone is no new stay. */
export function recordStretches(placements: readonly Placement[]): RecordStretch[] {
  const sorted = [...placements].sort((a, b) => a.fromMs - b.fromMs);
  const stretches: RecordStretch[] = [];
  for (const placement of sorted) {
    const height = { fromMs: placement.fromMs, heightM: placement.heightAboveSupplyPointM };
    const last = stretches.at(-1);
    if (last && last.siteId === placement.siteId && last.position === placement.position) {
      stretches[stretches.length - 1] = { ...last, heights: [...last.heights, height] };
      continue;
    }
    if (last) stretches[stretches.length - 1] = { ...last, toMs: placement.fromMs };
    stretches.push({
      loggerId: placement.loggerId,
      siteId: placement.siteId,
      position: placement.position,
      fromMs: placement.fromMs,
      toMs: Number.POSITIVE_INFINITY,
      heights: [height],
    });
  }
  return stretches.filter((stretch) => stretch.toMs > stretch.fromMs);
}

/** The part of a stay inside [fromMs, toMs), or undefined where they don't meet. */
export function clipStretch(stretch: RecordStretch, fromMs: EpochMs, toMs: EpochMs): RecordStretch | undefined {
  const from = Math.max(stretch.fromMs, fromMs);
  const to = Math.min(stretch.toMs, toMs);
  return from < to ? { ...stretch, fromMs: from, toMs: to } : undefined;
}
