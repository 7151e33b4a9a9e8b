import type { Channel } from '../../model/channel.ts';
import type { SentRun } from '../../model/series.ts';
import { CHANNEL_NUMBER, type HourNumber, startOfHourMs } from '../hours.ts';
import { concatenate, mergeRuns } from '../merge-runs.ts';
import { ascendsFrom, canonicalRun, refuseUnstorable, sortPiece, splitByHour, withoutKnown } from '../piece.ts';
import type { Piece, PieceOutcome } from '../port.ts';
import type { Blocks } from './blocks.ts';
import { damagedHours, isDamage } from './damaged-hours.ts';
import type { ErasedSpans } from './erased-spans.ts';
import type { LoggerNumbers } from './logger-numbers.ts';
import type { SqliteDatabase } from './open-database.ts';
import { type ArrivalLag, type ChannelKey, type Tail, trueRunsOfRow } from './tail.ts';
import type { WaitingHours } from './waiting-hours.ts';

/** A row of the tail holds at most this many samples, so that one late sample never costs a long decoding. */
const MOST_SAMPLES_A_ROW = 4096;

/** What is known of a channel without reading its samples. `at_ms`: its newest time. */
interface ChannelState extends ChannelKey {
  first_ms: number;
  at_ms: number;
  value: number;
  unit: string;
  arrived_ms: number;
  sample_count: number;
}

/** Pieces of one channel, hour and unit that follow each other in a batch: they become one row. */
interface Gathering {
  readonly hour: HourNumber;
  readonly unit: string;
  readonly runs: SentRun[];
  count: number;
  lag: ArrivalLag;
}

export interface SqliteSampleWriter {
  store(pieces: readonly Piece[]): PieceOutcome[];
  /** Drops what is remembered about channels: after erasing. */
  forget(): void;
}

export function createSampleWriter(
  database: SqliteDatabase,
  parts: { numbers: LoggerNumbers; tail: Tail; blocks: Blocks; erased: ErasedSpans; waiting: WaitingHours },
): SqliteSampleWriter {
  const { numbers, tail, blocks, erased, waiting } = parts;
  const states = new Map<string, Map<Channel, ChannelState>>();
  const selectState = database.prepare(
    'select first_ms, at_ms, value, unit, arrived_ms, sample_count from latest where logger = ? and channel = ?',
  );
  const upsertState = database.prepare(
    `insert into latest (logger, channel, first_ms, at_ms, value, unit, arrived_ms, sample_count) values (?,?,?,?,?,?,?,?)
     on conflict (logger, channel) do update set first_ms = excluded.first_ms, at_ms = excluded.at_ms,
       value = excluded.value, unit = excluded.unit, arrived_ms = excluded.arrived_ms,
       sample_count = excluded.sample_count`,
  );

  function stateOf(loggerId: string, channel: Channel): ChannelState {
    const known = states.get(loggerId)?.get(channel);
    if (known) return known;
    const key = { logger: numbers.assign(loggerId), channel: CHANNEL_NUMBER[channel] };
    const row = selectState.get(key.logger, key.channel) as Omit<ChannelState, 'logger' | 'channel'> | undefined;
    const empty = {
      first_ms: Number.POSITIVE_INFINITY,
      at_ms: Number.NEGATIVE_INFINITY,
      value: 0,
      unit: '',
      arrived_ms: 0,
      sample_count: 0,
    };
    const state = { ...key, ...(row ?? empty) };
    const own = states.get(loggerId);
    if (own) own.set(channel, state);
    else states.set(loggerId, new Map([[channel, state]]));
    return state;
  }

  const storeAll = database.transaction((pieces: readonly Piece[]) => {
    const gatherings = new Map<ChannelState, Gathering>();
    const touched: { key: ChannelKey; hour: HourNumber }[] = [];
    const touchedStates = new Set<ChannelState>();

    function insert(state: ChannelState, hour: HourNumber, run: SentRun, lag: ArrivalLag): void {
      tail.insert(state, hour, [run], lag);
      touched.push({ key: state, hour });
    }

    function flush(state: ChannelState): void {
      const gathering = gatherings.get(state);
      if (!gathering) return;
      gatherings.delete(state);
      insert(state, gathering.hour, concatenate(gathering.runs), gathering.lag);
    }

    function gather(state: ChannelState, hour: HourNumber, run: SentRun, lag: ArrivalLag): void {
      const open = gatherings.get(state);
      const fits =
        open && open.hour === hour && open.unit === run.unit && open.count + run.timeMs.length <= MOST_SAMPLES_A_ROW;
      if (!fits) {
        flush(state);
        gatherings.set(state, { hour, unit: run.unit, runs: [run], count: run.timeMs.length, lag });
        return;
      }
      open.runs.push(run);
      open.count += run.timeMs.length;
      open.lag = joinLags(open.lag, lag);
    }

    function storePiece(piece: Piece): PieceOutcome {
      const size = piece.timeMs.length;
      if (size === 0) return { stored: 0, duplicate: 0, conflict: 0 };
      const state = stateOf(piece.loggerId, piece.channel);
      const lag = lagOf(piece);
      const run = canonicalRun(piece);
      if (ascendsFrom(run.timeMs, state.at_ms)) {
        for (const part of splitByHour(run)) gather(state, part.hour, part.run, lag);
        note(state, run, piece.arrivedMs);
        touchedStates.add(state);
        return { stored: size, duplicate: 0, conflict: 0 };
      }
      flush(state);
      const sorted = sortPiece(run);
      let { duplicate, conflict } = sorted;
      let stored = 0;
      let tooOld = 0;
      for (const part of splitByHour(sorted.run)) {
        if (erased.has(state, part.hour)) {
          tooOld += part.run.timeMs.length;
          continue;
        }
        const fromMs = part.run.timeMs[0]!;
        const toMs = part.run.timeMs.at(-1)!;
        const there = telling(piece, part.hour, () => existing(state, part.hour, fromMs, toMs));
        const fresh = there.length === 0 ? { run: part.run, duplicate: 0, conflict: 0 } : withoutKnown(part.run, there);
        duplicate += fresh.duplicate;
        conflict += fresh.conflict;
        if (fresh.run.timeMs.length === 0) continue;
        insert(state, part.hour, fresh.run, lag);
        stored += fresh.run.timeMs.length;
        note(state, fresh.run, piece.arrivedMs);
        touchedStates.add(state);
      }
      return tooOld === 0 ? { stored, duplicate, conflict } : { stored, duplicate, conflict, erased: tooOld };
    }

    function telling<Result>(piece: Piece, hour: HourNumber, action: () => Result): Result {
      try {
        return action();
      } catch (error) {
        if (!isDamage(database.name, error)) throw error;
        const { loggerId, channel } = piece;
        const place = { loggerId, channel, fromMs: startOfHourMs(hour), toMs: startOfHourMs(hour + 1) };
        throw damagedHours(database.name, place, error);
      }
    }

    function existing(key: ChannelKey, hour: HourNumber, fromMs: number, toMs: number): SentRun[] {
      const block = blocks.overlapping(key, hour, fromMs, toMs);
      const pieces = tail.overlapping(key, hour, fromMs, toMs).map(trueRunsOfRow);
      return mergeRuns(block ? [trueRunsOfRow(block), ...pieces] : pieces);
    }

    const outcomes = pieces.map(storePiece);
    for (const state of [...gatherings.keys()]) flush(state);
    for (const state of touchedStates) {
      upsertState.run(
        state.logger,
        state.channel,
        state.first_ms,
        state.at_ms,
        state.value,
        state.unit,
        state.arrived_ms,
        state.sample_count,
      );
    }
    return { outcomes, touched };
  });

  function forget(): void {
    states.clear();
    numbers.forget();
  }

  return {
    forget,
    store(pieces) {
      for (const piece of pieces) refuseUnstorable(piece);
      try {
        const { outcomes, touched } = storeAll.immediate(pieces);
        for (const { key, hour } of touched) waiting.add(key, hour);
        return outcomes;
      } catch (error) {
        forget();
        throw error;
      }
    },
  };
}

function note(state: ChannelState, run: SentRun, arrivedMs: number): void {
  const last = run.timeMs.length - 1;
  state.sample_count += run.timeMs.length;
  state.first_ms = Math.min(state.first_ms, run.timeMs[0]!);
  if (run.timeMs[last]! <= state.at_ms) return;
  state.at_ms = run.timeMs[last]!;
  state.value = run.value[last]!;
  state.unit = run.unit;
  state.arrived_ms = arrivedMs;
}

function lagOf(piece: Piece): ArrivalLag {
  let newestMs = piece.timeMs[0]!;
  for (let i = 1; i < piece.timeMs.length; i++) if (piece.timeMs[i]! > newestMs) newestMs = piece.timeMs[i]!;
  const lagS = Math.floor((piece.arrivedMs - newestMs) / 1000);
  return { firstS: lagS, lastS: lagS, largestS: lagS };
}

export function joinLags(earlier: ArrivalLag, later: ArrivalLag): ArrivalLag {
  return {
    firstS: earlier.firstS,
    lastS: later.lastS,
    largestS: Math.max(earlier.largestS, later.largestS),
  };
}
