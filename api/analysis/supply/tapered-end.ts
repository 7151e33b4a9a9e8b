import type { SegmentationInput } from './draw-courses.ts';

/** Longest tapering off: a cistern's float valve. */
const LONGEST_SOFT_END_MS = 900_000;
/** The taper has ended where the reading rises by less than this share of the fall over the time below. */
const STILL_SHARE = 0.06;
const STILL_MS = 30_000;
/** Share of the fall that must have come back before a level that stays counts as the street's. */
const LEAST_BACK_SHARE = 0.6;
/** The street may fall by this share of the fall meanwhile. */
const FALLING_SHARE = 0.3;
/** An edge of at least this share of the fall is no bend of a taper: a tap of its own. */
const OWN_EDGE_SHARE = 0.25;

type Rows = Pick<SegmentationInput, 'timeMs' | 'pressureBar' | 'to' | 'levelRows' | 'turnRows' | 'edges' | 'noiseBar'>;

export interface TaperedEnd {
  /** First row at which the household draws no more. */
  readonly row: number;
  /** Last edge within the taper; the one it began after where there is none. */
  readonly lastEdge: number;
  /** The level at which it arrived. */
  readonly arrivedBar: number;
}

/**
 * Where a flow that dies away after an edge may have ended: where the reading has come back most of the way and stays,
 * and where it is back at the idle level; a hand that rests half way makes the first, a street that sank the only one.
 * Bends of the taper may pass for small edges; another tap's edge ends the search, and so does the time a cistern takes.
 * @param edge the last sharp edge before the taper
 */
export function taperedEnds(input: Rows, edge: number, idleBar: number, fallBar: number, sdBar: number): TaperedEnd[] {
  const { timeMs, pressureBar, edges, levelRows, turnRows, noiseBar } = input;
  const after = edges.row[edge]!;
  const width = Math.max(1, Math.min(3, levelRows - 2));
  const back = Math.max(0.06 * fallBar, 0.7 * sdBar, 0.003);
  const arrived = idleBar - back;
  const stays = Math.max(STILL_SHARE * fallBar, 2 * noiseBar * Math.sqrt(1 / width + 1 / levelRows));
  const startBar = edges.afterBar[edge]!;
  // A flow that dies away lets the reading rise; where it falls, the street fell or someone drew more.
  const fallen = startBar - Math.max(FALLING_SHARE * fallBar, 4 * noiseBar);
  const ends: TaperedEnd[] = [];
  let lastEdge = edge;
  let sum = 0;
  let lowest = Number.POSITIVE_INFINITY;
  for (let i = after; i < input.to; i++) {
    if (timeMs[i]! - timeMs[after]! > LONGEST_SOFT_END_MS) return ends;
    while (lastEdge + 1 < edges.count && edges.row[lastEdge + 1]! <= i) {
      const step = edges.afterBar[lastEdge + 1]! - edges.beforeBar[lastEdge + 1]!;
      if (Math.abs(step) > OWN_EDGE_SHARE * fallBar) return ends;
      lastEdge++;
    }
    sum += pressureBar[i]!;
    if (i >= after + width) sum -= pressureBar[i - width]!;
    if (i < after + width - 1) continue;
    const level = sum / width;
    if (level < fallen) {
      if (i - after <= turnRows && lowest === Number.POSITIVE_INFINITY) continue;
      return ends;
    }
    const row = i - width + 2;
    lowest = Math.min(lowest, level);
    // Back by most of the fall: from the level before the draw, or from that within it where the street sank meanwhile.
    if (level < Math.min(idleBar - (1 - LEAST_BACK_SHARE) * fallBar, lowest + LEAST_BACK_SHARE * fallBar)) continue;
    const later = levelLater(input, i, lastEdge);
    // A street that rises through the old level arrives nowhere yet.
    if (level >= arrived && (later === undefined || later - level < 0.5 * fallBar + stays))
      return [...ends, { row, lastEdge, arrivedBar: level }];
    if (ends.length === 0 && later !== undefined && later - level < stays)
      ends.push({ row, lastEdge, arrivedBar: Math.max(level, later) });
  }
  return ends;
}

/** Mean of some rows half a minute on, before any further edge; undefined where there are too few. */
function levelLater({ timeMs, pressureBar, edges, levelRows, to }: Rows, row: number, lastEdge: number) {
  const next = lastEdge + 1 < edges.count ? edges.row[lastEdge + 1]! - 1 : to;
  let end = row + levelRows;
  while (end < next && timeMs[end]! - timeMs[row]! < STILL_MS) end++;
  if (end >= next) return undefined;
  let sum = 0;
  for (let i = end - levelRows; i < end; i++) sum += pressureBar[i]!;
  return sum / levelRows;
}
