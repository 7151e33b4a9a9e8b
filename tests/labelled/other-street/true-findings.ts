import type { TrueColumns } from './hydraulic-run.ts';
import type { Opening } from './outlets.ts';
import type { Logged, Transducer } from './transducer.ts';
import type { WallClock } from './wall-clock.ts';

/*
 * What a perfect reader of the log would report, by the rules of README.md beside this file, from noise-free columns.
 * `optional` labels lie where a millibar decides, or where nothing in the log could tell: finding them is neither right
 * nor wrong.
 */
export interface TrueSpan {
  readonly startMs: number;
  readonly endMs: number;
  readonly optional: boolean;
}

export interface TrueDraw extends TrueSpan {
  readonly dropBar: number;
  readonly meanLpm: number;
}

export interface TrueLow extends TrueSpan {
  readonly minBar: number;
  readonly certain: boolean;
  readonly qualifying: boolean;
}

export interface TrueSag {
  readonly day: string;
  readonly window: 'morning' | 'evening';
  /** `open`: a centimetre of depth or a hole in the log decides; not judged. */
  readonly state: 'present' | 'absent' | 'open';
  readonly depthBar: number;
  readonly startMs?: number;
  readonly endMs?: number;
}

export interface TrueChange {
  readonly atMs: number;
  readonly kind: 'supply' | 'property' | 'sensor';
  readonly fromBar: number;
  readonly toBar: number;
}

export interface Truth {
  readonly startMs: number;
  /** Centred minute means of standing pressure, one every 60 s; NaN where not to be judged. */
  readonly standingBar: Float64Array;
  readonly draws: readonly TrueDraw[];
  readonly neighbourDraws: readonly TrueSpan[];
  readonly sags: readonly TrueSag[];
  readonly lowSupply: readonly TrueLow[];
  readonly faults: Logged['faults'];
  /** Stretches of which the log tells nothing. */
  readonly blind: Logged['blind'];
  readonly changes: readonly TrueChange[];
}

/** A fall that shows at all. */
const SHOWS_BAR = 0.01;
const SHOWS_LPM = 0.1;

export function trueDraws(
  columns: TrueColumns,
  sensor: Transducer,
  intervalS: number,
  logged: Logged,
  metered: boolean,
): TrueDraw[] {
  const { startMs, standingBar, runningBar, ownLpm } = columns;
  const joinS = Math.max(3, 2 * intervalS);
  const leastS = Math.max(5, 3 * intervalS);
  const leastBar = Math.max(0.03, 3 * sensor.noiseBar, 2 * sensor.stepBar);
  const shown = spans(
    standingBar.length,
    (s) => ownLpm[s]! > SHOWS_LPM && standingBar[s]! - runningBar[s]! > SHOWS_BAR,
    joinS,
  );
  return (metered ? withTrickle(shown, ownLpm, joinS) : shown).map(({ from, to }) => {
    let fall = 0;
    let flow = 0;
    for (let s = from; s < to; s++) {
      fall += standingBar[s]! - runningBar[s]!;
      flow += ownLpm[s]!;
    }
    const dropBar = fall / (to - from);
    const span = { startMs: startMs + from * 1000, endMs: startMs + to * 1000 };
    const touched = logged.blind.some((b) => b.startMs < span.endMs && span.startMs < b.endMs);
    // A sixth more than the least asked: at the very floor a sample decides.
    const optional = touched || to - from < leastS + Math.max(1, intervalS) || dropBar < 1.15 * leastBar;
    return { ...span, dropBar, meanLpm: flow / (to - from), optional };
  });
}

/** A meter shows a float valve's trickle to its end; the pause before the next draw stays one. */
function withTrickle(shown: readonly { from: number; to: number }[], ownLpm: TrueColumns['ownLpm'], joinS: number) {
  return shown.map((span, i) => {
    let { from, to } = span;
    while (from > (shown[i - 1]?.to ?? 0) && ownLpm[from - 1]! > SHOWS_LPM) from--;
    const latest = (shown[i + 1]?.from ?? ownLpm.length + joinS) - joinS;
    while (to < latest && ownLpm[to]! > SHOWS_LPM) to++;
    return { from, to };
  });
}

/** Spans [from, to) where a condition holds, pauses under `joinS` joined. */
export function spans(length: number, holds: (s: number) => boolean, joinS: number): { from: number; to: number }[] {
  const found: { from: number; to: number }[] = [];
  let from = -1;
  let last = -1;
  for (let s = 0; s < length; s++) {
    if (!holds(s)) continue;
    if (from >= 0 && s - last - 1 >= joinS) {
      found.push({ from, to: last + 1 });
      from = -1;
    }
    if (from < 0) from = s;
    last = s;
  }
  if (from >= 0) found.push({ from, to: last + 1 });
  return found;
}

/** Sums from the start, one longer than the column. */
function sums(column: Float64Array): Float64Array {
  const total = new Float64Array(column.length + 1);
  for (let s = 0; s < column.length; s++) total[s + 1] = total[s]! + column[s]!;
  return total;
}

function meanAbout(total: Float64Array, s: number, half: number): number {
  const from = Math.max(0, s - half);
  const to = Math.min(total.length - 1, s + half);
  return (total[to]! - total[from]!) / (to - from);
}

/** A threshold so near that the sensor's noise or a second decides. */
const MARGIN_BAR = 0.012;

export function trueLowSupply(
  columns: TrueColumns,
  thresholdBar: number,
  expandedBar: number,
  blind: Logged['blind'],
): TrueLow[] {
  const { startMs, standingBar } = columns;
  const total = sums(standingBar);
  const hidden = new Uint8Array(standingBar.length);
  for (const b of blind) {
    if (b.endMs - b.startMs > 120_000)
      hidden.fill(1, Math.max(0, (b.startMs - startMs) / 1000), (b.endMs - startMs) / 1000);
  }
  const under = (limit: number) => {
    const below = (s: number) => hidden[s] === 0 && meanAbout(total, s, 5) < limit;
    // A hole in the log ends a period: nothing is assumed inside.
    const joined = spans(standingBar.length, below, 120);
    const found: { from: number; to: number }[] = [];
    for (const span of joined) {
      let from = span.from;
      for (let s = span.from; s <= span.to; s++) {
        if (s < span.to && hidden[s] === 0) continue;
        if (s - from >= 60) found.push({ from, to: s });
        from = s + 1;
      }
    }
    return found;
  };
  const wider = under(thresholdBar + MARGIN_BAR);
  const narrower = under(thresholdBar - MARGIN_BAR);
  const surely = under(thresholdBar - expandedBar);
  const alike = (a: { from: number; to: number }, list: readonly { from: number; to: number }[]) =>
    list.some(
      (b) =>
        (Math.min(a.to, b.to) - Math.max(a.from, b.from)) / (Math.max(a.to, b.to) - Math.min(a.from, b.from)) > 0.55,
    );
  const low = (span: { from: number; to: number }, optional: boolean): TrueLow => {
    let minBar = Number.POSITIVE_INFINITY;
    let below = 0;
    for (let s = span.from; s < span.to; s++) {
      const bar = meanAbout(total, s, 5);
      minBar = Math.min(minBar, bar);
      if (bar < thresholdBar) below++;
    }
    return {
      startMs: startMs + span.from * 1000,
      endMs: startMs + span.to * 1000,
      optional,
      minBar,
      certain: surely.some((s) => s.from < span.to && span.from < s.to),
      qualifying: span.to - span.from >= 3600 && below / (span.to - span.from) >= 0.9,
    };
  };
  const at = under(thresholdBar);
  const firm = at.map((span) => low(span, !(alike(span, wider) && alike(span, narrower))));
  const edge = wider.filter((span) => !alike(span, at)).map((span) => low(span, true));
  return [...firm, ...edge].sort((a, b) => a.startMs - b.startMs);
}

const WINDOWS = [
  { window: 'morning', from: 5, to: 11 },
  { window: 'evening', from: 17, to: 23 },
] as const;
const DEPTH_MARGIN_BAR = 0.025;

export function trueSags(
  columns: TrueColumns,
  clock: WallClock,
  minDepthBar: number,
  logged: Logged,
  untold: readonly TrueSpan[],
): TrueSag[] {
  const { startMs, standingBar } = columns;
  const endMs = startMs + standingBar.length * 1000;
  const total = sums(standingBar);
  const second = (ms: number) => Math.round((ms - startMs) / 1000);
  const hiddenShare = (fromMs: number, toMs: number) =>
    logged.blind.reduce((sum, b) => sum + Math.max(0, Math.min(toMs, b.endMs) - Math.max(fromMs, b.startMs)), 0) /
    (toMs - fromMs);
  const found: TrueSag[] = [];
  for (const { date } of clock.dates(startMs, endMs)) {
    const nightFrom = clock.at(date, 1);
    const nightTo = clock.at(date, 5);
    if (nightFrom < startMs || nightTo > endMs) continue;
    const night = Array.from(
      standingBar.subarray(second(nightFrom), second(nightTo)).filter((_, s) => s % 20 === 0),
    ).sort((a, b) => a - b);
    const level = night[night.length >> 1]!;
    for (const { window, from, to } of WINDOWS) {
      const fromMs = clock.at(date, from);
      const toMs = clock.at(date, to);
      if (fromMs < startMs || toMs > endMs) continue;
      let lowest = second(fromMs);
      for (let s = second(fromMs); s < second(toMs); s += 10) {
        if (meanAbout(total, s, 150) < meanAbout(total, lowest, 150)) lowest = s;
      }
      const depthBar = level - meanAbout(total, lowest, 150);
      const open =
        Math.abs(depthBar - minDepthBar) < DEPTH_MARGIN_BAR ||
        // Without a meter nobody can say whether a neighbour's draw made the lowest five minutes.
        untold.some(
          (span) => span.startMs < startMs + (lowest + 150) * 1000 && startMs + (lowest - 150) * 1000 < span.endMs,
        ) ||
        hiddenShare(nightFrom, nightTo) > 0.3 ||
        hiddenShare(fromMs, toMs) > 0.08;
      const state = open ? 'open' : depthBar >= minDepthBar ? 'present' : 'absent';
      const half = level - depthBar / 2;
      let start = lowest;
      while (start > 0 && meanAbout(total, start, 150) < half) start -= 10;
      let end = lowest;
      while (end < standingBar.length && meanAbout(total, end, 150) < half) end += 10;
      const inside = startMs + start * 1000 >= fromMs && startMs + end * 1000 <= toMs + 3_600_000;
      found.push({
        day: date,
        window,
        state,
        depthBar,
        ...(inside ? { startMs: startMs + start * 1000, endMs: startMs + end * 1000 } : {}),
      });
    }
  }
  return found;
}

/** Where a neighbour's fall shows; without a meter nothing in the log tells it from the household's own. */
export function neighbourSpans(columns: TrueColumns, neighbours: readonly Opening[]): TrueSpan[] {
  if (neighbours.length === 0) return [];
  return spans(columns.standingBar.length, (s) => columns.neighbourLpm[s]! > SHOWS_LPM, 3).map(({ from, to }) => ({
    startMs: columns.startMs + from * 1000,
    endMs: columns.startMs + to * 1000,
    optional: true,
  }));
}

/** Minute means about each full minute from the start; NaN in holes of over two minutes, and under a neighbour's unmetered draws. */
export function trueStanding(
  columns: TrueColumns,
  sensor: Transducer,
  logged: Logged,
  untold: readonly TrueSpan[],
): Float64Array {
  const { startMs, standingBar } = columns;
  const total = sums(standingBar);
  const grid = Float64Array.from(
    { length: Math.floor(standingBar.length / 60) },
    (_, j) => meanAbout(total, j * 60, 30) + sensor.zeroBar + (sensor.driftBar * j * 60) / standingBar.length,
  );
  const hide = (fromMs: number, toMs: number) => {
    const last = Math.ceil((toMs - startMs) / 60_000 + 0.5);
    for (let j = Math.max(0, Math.floor((fromMs - startMs) / 60_000 - 0.5)); j <= last && j < grid.length; j++)
      grid[j] = Number.NaN;
  };
  for (const b of logged.blind) if (b.endMs - b.startMs > 120_000) hide(b.startMs, b.endMs);
  for (const span of untold) hide(span.startMs, span.endMs);
  return grid;
}
