import type { SwitchLevels } from './switch-levels.ts';

/** A run that the decoder has settled on; without a stop where the readings end in it. */
export interface DecodedRun {
  readonly startRow: number;
  readonly stopRow: number | undefined;
}

/** What the plant may be doing at a row: resting (the first `LEVELS` states), drawn from with the pump off, or running. */
const DRAWN = 1;
const RUNS = 2;

/** Levels looked at reach below cut-in by the whole band (a draw may outrun the pump) and above cut-out by a half. */
const PARTS_OF_BAND = 6;
const BELOW_SHARE = 1;
const LEVELS = 1 + PARTS_OF_BAND * 2.5;
const STATES = 3 * LEVELS;
/** How far from its level, as part of the band, the switch may be seen to turn. */
const TURN_SHARE = 0.05;
/** No reading counts against a guess by more than this: some lie anywhere. Costs here are negative logarithms of odds. */
const MOST_MISFIT = 8;
/** A tap opens once in some minutes and closes again; under it the pump comes and goes. */
const OPENING_COST = 8;
const CLOSING_COST = 2;
const START_COST = 0.7;
const START_AT_REST_COST = 8;
const STOP_COST = 0.5;
/** Against the way it goes the level creeps by a part of the band at this cost: gas warms, other taps close. */
const CREEP_COST = 1.5;
/** Free to fall or rise, noise fits better than it should: what is drawn or runs pays for each row. */
const DRAWN_ROW_COST = 0.6;
const RUNNING_ROW_COST = 0.6;
/** The past is settled where all guesses about the present share it; after so many rows the likeliest is taken. */
const SETTLES_EACH_ROWS = 256;
const LONGEST_ROWS = 4096;

/** Where the search for the likeliest course stands. Only `decodeRow` and `endDecoding` look inside. */
export interface SawDecoder {
  readonly levels: SwitchLevels;
  readonly noiseBar: number;
  cost: Float64Array;
  next: Float64Array;
  /** The state before, by row and state, from `fromRow` on. */
  readonly before: Uint8Array;
  fromRow: number;
  count: number;
  /** What the settled part ended in. */
  settled: number | undefined;
  openRow: number | undefined;
}

export function beginDecoding(levels: SwitchLevels, noiseBar: number, row: number): SawDecoder {
  return {
    levels,
    noiseBar,
    cost: new Float64Array(STATES),
    next: new Float64Array(STATES),
    before: new Uint8Array(STATES * LONGEST_ROWS),
    fromRow: row,
    count: 0,
    settled: undefined,
    openRow: undefined,
  };
}

/** A copy that stands where the decoder stands, whatever becomes of it. */
export function keptDecoder(decoder: SawDecoder): SawDecoder {
  const { cost, next, before } = decoder;
  return { ...decoder, cost: cost.slice(), next: next.slice(), before: before.slice() };
}

/**
 * A pump's runs where the switch's band is little more than the noise: single turns drown, but a saw between known levels
 * is told from rest by the likeliest course through all readings (Viterbi's algorithm over what the plant does and at
 * which level; normal noise). Takes one reading, gives the runs that became certain by it. A fixed time a row.
 */
export function decodeRow(decoder: SawDecoder, bar: number): DecodedRun[] {
  const { levels, noiseBar, cost, next } = decoder;
  const bandBar = levels.cutOutBar - levels.cutInBar;
  const width = bandBar / PARTS_OF_BAND;
  const lowest = levels.cutInBar - BELOW_SHARE * bandBar;
  const startsTo = Math.floor((levels.cutInBar + TURN_SHARE * bandBar - lowest) / width);
  const stopsFrom = Math.ceil((levels.cutOutBar - TURN_SHARE * bandBar - lowest) / width);
  const seen = Math.max(lowest, Math.min(lowest + (LEVELS - 1) * width, bar));
  const before = decoder.count * STATES;
  if (decoder.count === 0 && decoder.settled === undefined) {
    for (let state = 0; state < STATES; state++) next[state] = state < LEVELS ? 0 : OPENING_COST;
  } else step(decoder, before, startsTo, stopsFrom);
  let least = Number.POSITIVE_INFINITY;
  for (let level = 0; level < LEVELS; level++) {
    const away = (seen - lowest - level * width) / noiseBar;
    const misfit = Math.min(MOST_MISFIT, (away * away) / 2);
    for (let state = level; state < STATES; state += LEVELS) {
      const total = next[state]! + misfit;
      next[state] = total;
      if (total < least) least = total;
    }
  }
  for (let state = 0; state < STATES; state++) next[state]! -= least;
  decoder.cost = next;
  decoder.next = cost;
  decoder.count++;
  if (decoder.count === LONGEST_ROWS) return settle(decoder, likeliest(decoder), decoder.count);
  return decoder.count % SETTLES_EACH_ROWS === 0 ? settleShared(decoder) : [];
}

/** The runs up to the last reading; the decoder is spent. */
export function endDecoding(decoder: SawDecoder): DecodedRun[] {
  if (decoder.count === 0) return [];
  const runs = settle(decoder, likeliest(decoder), decoder.count);
  return decoder.openRow === undefined ? runs : [...runs, { startRow: decoder.openRow, stopRow: undefined }];
}

/** Takes a way into a state if it is cheaper than those before. */
function offer({ cost, next, before }: SawDecoder, at: number, state: number, from: number, more: number): void {
  const total = cost[from]! + more;
  if (total < next[state]!) {
    next[state] = total;
    before[at + state] = from;
  }
}

/** Costs of every state by the cheapest way from those of the row before. */
function step(decoder: SawDecoder, at: number, startsTo: number, stopsFrom: number): void {
  const { cost, next, before } = decoder;
  next.fill(Number.POSITIVE_INFINITY);
  const drawn = DRAWN * LEVELS;
  const runs = RUNS * LEVELS;
  // Falling or at rest: from the same level or from above. The commonest states by far: their ways are compared in place.
  let high = LEVELS - 1;
  let highIdle = LEVELS - 1;
  for (let level = LEVELS - 1; level >= 0; level--) {
    const idleHere = cost[level]!;
    const drawnHere = cost[drawn + level]!;
    if (drawnHere <= cost[drawn + high]!) high = level;
    if (idleHere <= cost[highIdle]!) highIdle = level;
    const drawnHigh = cost[drawn + high]!;
    let least = idleHere;
    let from = level;
    if (level + 1 < LEVELS && cost[level + 1]! + CREEP_COST < least) {
      least = cost[level + 1]! + CREEP_COST;
      from = level + 1;
    }
    if (level > 0 && cost[level - 1]! + CREEP_COST < least) {
      least = cost[level - 1]! + CREEP_COST;
      from = level - 1;
    }
    if (drawnHigh + CLOSING_COST < least) {
      least = drawnHigh + CLOSING_COST;
      from = drawn + high;
    }
    if (least < Number.POSITIVE_INFINITY) {
      next[level] = least;
      before[at + level] = from;
    }
    least = drawnHigh + DRAWN_ROW_COST;
    from = drawn + high;
    const opening = cost[highIdle]! + (OPENING_COST + DRAWN_ROW_COST);
    if (opening < least) {
      least = opening;
      from = highIdle;
    }
    if (level > 0 && cost[drawn + level - 1]! + (CREEP_COST + DRAWN_ROW_COST) < least) {
      least = cost[drawn + level - 1]! + (CREEP_COST + DRAWN_ROW_COST);
      from = drawn + level - 1;
    }
    if (least < Number.POSITIVE_INFINITY) {
      next[drawn + level] = least;
      before[at + drawn + level] = from;
    }
    if (level <= startsTo) {
      offer(decoder, at, runs + level, drawn + high, START_COST + RUNNING_ROW_COST);
      offer(decoder, at, runs + level, level, START_AT_REST_COST + RUNNING_ROW_COST);
    }
  }
  // Rising: from the same level or from below.
  let low = 0;
  let lowStart = 0;
  for (let level = 0; level < LEVELS; level++) {
    if (cost[runs + level]! <= cost[runs + low]!) low = level;
    if (level <= startsTo && cost[drawn + level]! <= cost[drawn + lowStart]!) lowStart = level;
    offer(decoder, at, runs + level, runs + low, RUNNING_ROW_COST);
    if (level + 1 < LEVELS) offer(decoder, at, runs + level, runs + level + 1, CREEP_COST + RUNNING_ROW_COST);
    offer(decoder, at, runs + level, drawn + lowStart, START_COST + RUNNING_ROW_COST);
    if (level >= stopsFrom) {
      offer(decoder, at, level, runs + low, STOP_COST);
      offer(decoder, at, drawn + level, runs + low, STOP_COST);
    }
  }
  // It stopped at the top after the row before: what is seen now may have fallen again.
  let top = stopsFrom;
  for (let level = stopsFrom; level < LEVELS; level++) if (cost[runs + level]! < cost[runs + top]!) top = level;
  for (let level = 0; level < LEVELS; level++) {
    if (level <= top) offer(decoder, at, drawn + level, runs + top, STOP_COST);
    if (level === top || level === top - 1) offer(decoder, at, level, runs + top, STOP_COST);
  }
}

function likeliest({ cost }: SawDecoder): number {
  let best = 0;
  for (let state = 1; state < STATES; state++) if (cost[state]! < cost[best]!) best = state;
  return best;
}

/** Settles the rows up to the last one at which all guesses agree. */
function settleShared(decoder: SawDecoder): DecodedRun[] {
  const { before, count } = decoder;
  let states = new Set<number>();
  for (let state = 0; state < STATES; state++) if (decoder.cost[state]! < Number.POSITIVE_INFINITY) states.add(state);
  for (let row = count - 1; row > 0; row--) {
    if (states.size === 1) return settle(decoder, [...states][0]!, row + 1);
    const earlier = new Set<number>();
    for (const state of states) earlier.add(before[row * STATES + state]!);
    states = earlier;
  }
  return [];
}

/** Settles the first `rows` rows, the last of them in `state`. What comes after keeps its guesses. */
function settle(decoder: SawDecoder, state: number, rows: number): DecodedRun[] {
  const { before, count, fromRow } = decoder;
  const course = new Uint8Array(rows);
  for (let row = rows - 1, at = state; row >= 0; row--) {
    course[row] = at;
    at = before[row * STATES + at]!;
  }
  const runs: DecodedRun[] = [];
  let last = decoder.settled;
  for (let row = 0; row < rows; row++) {
    const now = course[row]!;
    const ran = last !== undefined && last >= RUNS * LEVELS;
    const runsNow = now >= RUNS * LEVELS;
    // Of the two rows about a turn, the outer one shows it.
    if (runsNow && !ran && last !== undefined) {
      decoder.openRow = fromRow + (last % LEVELS <= now % LEVELS ? row - 1 : row);
    } else if (!runsNow && ran && decoder.openRow !== undefined) {
      const stopRow = fromRow + ((last ?? 0) % LEVELS >= now % LEVELS ? row - 1 : row);
      runs.push({ startRow: decoder.openRow, stopRow: Math.max(stopRow, decoder.openRow + 1) });
      decoder.openRow = undefined;
    }
    last = now;
  }
  decoder.settled = last;
  if (rows === count) {
    // What wasn't taken is no longer open.
    for (let other = 0; other < STATES; other++) if (other !== state) decoder.cost[other] = Number.POSITIVE_INFINITY;
  }
  decoder.before.copyWithin(0, rows * STATES, count * STATES);
  decoder.fromRow += rows;
  decoder.count -= rows;
  return runs;
}
