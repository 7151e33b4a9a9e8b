import { describe, expect, test } from 'vitest';
import { acceptMessage, type IncomingMessage } from '../../../collector/ingest/accept-message.ts';
import {
  BURST_GAP_MS,
  type ChannelMemory,
  emptyChannelMemory,
  nextStamp,
} from '../../../collector/ingest/channel-memory.ts';
import { splitAtHours } from '../../../collector/ingest/split-hours.ts';
import type { Channel } from '../../../collector/model/channel.ts';
import type { ChannelSetting } from '../../../collector/model/logger.ts';
import { SAMPLE_FLAG } from '../../../collector/model/series.ts';
import { message, NOON_MS } from './collector-under-test.ts';

const OF_ARRIVAL = SAMPLE_FLAG.timeOfArrival;
const UNCERTAIN = SAMPLE_FLAG.timeOfArrival | SAMPLE_FLAG.timeUncertain;

function intake(settings: ChannelSetting[] = []) {
  const memories = new Map<Channel, ChannelMemory>();
  const memory = (channel: Channel): ChannelMemory => {
    if (!memories.has(channel)) memories.set(channel, emptyChannelMemory());
    return memories.get(channel)!;
  };
  return {
    memory,
    take: (payload: string, more: Partial<IncomingMessage> = {}, channel: Channel = 'pressure') =>
      acceptMessage(message(`mainsdiary/front-hall/${channel}`, payload, more), {
        loggerId: 'front-hall',
        channel,
        settings,
        memory,
      }),
  };
}
const setting = (channel: Channel, unit: string, fromMs: number, intervalS?: number): ChannelSetting => ({
  loggerId: 'front-hall',
  channel,
  unit,
  fromMs,
  intervalS,
});

describe('units', () => {
  test('a value has the unit under which its logger sends at arrival', () => {
    const { take } = intake([setting('pressure', 'V', NOON_MS), setting('pressure', 'mbar', 0)]);
    expect(take('2.5').pieces).toMatchObject([{ unit: 'V', channel: 'pressure', loggerId: 'front-hall' }]);
    expect(take('2.5', { arrivedMs: NOON_MS - 1 }).pieces).toMatchObject([{ unit: 'mbar' }]);
  });

  test('the first setting holds for what came before it, and a channel without one has its canonical unit', () => {
    const { take } = intake([setting('pressure', 'psi', NOON_MS + 1)]);
    expect(take('50').pieces).toMatchObject([{ unit: 'psi' }]);
    expect(take('12', {}, 'flow').pieces).toMatchObject([{ unit: 'l/min' }]);
  });

  test('a pack with several channels and units makes a piece of each', () => {
    const pack = [
      { bt: 1777876267, n: 'pressure', u: 'Pa', v: 3e5 },
      { n: 'flow', u: 'l/s', v: 0.2 },
      { n: 'pressure', t: 1, u: 'hPa', v: 3000 },
      { n: 'pressure', t: 2, u: 'Pa', v: 3e5 },
    ];
    const { pieces } = intake().take(JSON.stringify(pack));
    expect(pieces.map(({ channel, unit, timeMs }) => [channel, unit, timeMs.length])).toEqual([
      ['pressure', 'Pa', 2],
      ['pressure', 'hPa', 1],
      ['flow', 'l/s', 1],
    ]);
  });
});

describe('stamps of arrival', () => {
  test('are unique per channel, a millisecond apart where they would coincide', () => {
    const { take } = intake();
    const times = ['1', '2', '3'].map((text) => take(text).pieces[0]!.timeMs[0]);
    expect(times).toEqual([NOON_MS, NOON_MS + 1, NOON_MS + 2]);
    expect(take('1', { arrivedMs: NOON_MS + 1000 }).pieces[0]!.timeMs[0]).toBe(NOON_MS + 1000);
    expect(take('4', {}, 'flow').pieces[0]!.timeMs[0]).toBe(NOON_MS);
  });

  test('never repeat, even when the clock steps back', () => {
    const memory = emptyChannelMemory();
    const stamps = [100, 90, 95, 101, 101].map((at) => nextStamp(memory, at));
    expect(stamps).toEqual([100, 101, 102, 103, 104]);
  });

  test('are marked as such; a time of the logger is not', () => {
    const { take } = intake();
    expect([...take('1').pieces[0]!.flags!]).toEqual([OF_ARRIVAL]);
    expect(take('{"time":1777876267,"value":1}').pieces[0]!.flags).toBeUndefined();
    expect([...take('[{"t":-5,"v":1}]').pieces[0]!.flags!]).toEqual([OF_ARRIVAL]);
  });

  test('of several readings in one message are uncertain: only one can be of that moment', () => {
    expect([...intake().take('[{"value":1},{"value":2}]').pieces[0]!.flags!]).toEqual([UNCERTAIN, UNCERTAIN]);
  });
});

describe('a redelivered message without a time', () => {
  test('that equals the last value is one sample', () => {
    const { take } = intake();
    take('1.482');
    expect(take('1.482', { duplicate: true, arrivedMs: NOON_MS + 5000 })).toMatchObject({ pieces: [], redelivered: 1 });
    expect(take('1.482', { arrivedMs: NOON_MS + 6000 }).pieces).toHaveLength(1);
  });

  test('with another value is kept, its time marked uncertain', () => {
    const { take } = intake();
    take('1.482');
    const { pieces, redelivered } = take('1.5', { duplicate: true });
    expect(redelivered).toBe(0);
    expect([...pieces[0]!.flags!]).toEqual([UNCERTAIN]);
  });

  test('with its own time is left to the store, which knows times', () => {
    const { take } = intake();
    take('{"time":1777876267,"value":1}');
    expect(take('{"time":1777876267,"value":1}', { duplicate: true }).pieces).toHaveLength(1);
  });
});

describe('a burst after a reconnection', () => {
  const paces = (gapsMs: number[], settings: ChannelSetting[] = [], learn: number[] = []) => {
    const { take, memory } = intake(settings);
    let at = NOON_MS;
    for (const gap of learn) {
      at += gap;
      take('1', { arrivedMs: at });
    }
    at += 3_600_000;
    memory('pressure').watch = { sinceMs: at, seen: 0 };
    return gapsMs.map((gap, i) => {
      at += gap;
      return take(String(i), { arrivedMs: at }).pace;
    });
  };

  test('is told from live readings by its pace', () => {
    expect(paces([0, 5, 5, 5, 1000, 5])).toEqual([
      'first after reconnection',
      'burst',
      'burst',
      'burst',
      'live',
      'live',
    ]);
    expect(paces([0, BURST_GAP_MS, 1000])).toEqual(['first after reconnection', 'live', 'live']);
  });

  test('over a slow link is known by the usual pace, learnt or stated', () => {
    const secondly = Array.from({ length: 20 }, () => 1000);
    expect(paces([0, 300, 300, 1000], [], secondly)).toEqual(['first after reconnection', 'burst', 'burst', 'live']);
    expect(paces([0, 300, 1000], [setting('pressure', 'bar', 0, 1)])).toEqual([
      'first after reconnection',
      'burst',
      'live',
    ]);
  });

  test('is not what a fast logger does all day', () => {
    const tenAYear = Array.from({ length: 50 }, () => 50);
    expect(paces([0, 50, 50], [], tenAYear)).toEqual(['first after reconnection', 'live', 'live']);
  });

  test('marks what it brings', () => {
    const { take, memory } = intake();
    memory('pressure').watch = { sinceMs: NOON_MS, seen: 1 };
    memory('pressure').lastTimelessArrivalMs = NOON_MS;
    expect([...take('1').pieces[0]!.flags!]).toEqual([UNCERTAIN]);
    expect(take('{"time":1777876267,"value":1}').pieces[0]!.flags).toBeUndefined();
  });
});

describe('hours', () => {
  test('a batch over an hour end becomes a piece per hour, nothing lost and nothing reordered', () => {
    const start = Date.UTC(2026, 4, 4, 10, 59, 50);
    const batch = Array.from({ length: 20 }, (_, i) => ({ time: start + i * 1000, value: i }));
    const { pieces } = intake().take(JSON.stringify(batch));
    expect(pieces.map(({ timeMs }) => timeMs.length)).toEqual([10, 10]);
    expect(pieces.flatMap(({ value }) => [...value])).toEqual(batch.map(({ value }) => value));
    expect(new Set(pieces[1]!.timeMs.map((at) => Math.floor(at / 3_600_000))).size).toBe(1);
  });

  test('flags go with their samples', () => {
    const parts = splitAtHours({
      loggerId: 'a',
      channel: 'pressure',
      unit: 'bar',
      arrivedMs: 0,
      timeMs: Float64Array.of(0, 3_600_000, 1, 7_200_000),
      value: Float64Array.of(1, 2, 3, 4),
      flags: Uint8Array.of(0, 1, 2, 3),
    });
    expect(parts.map(({ value, flags }) => [[...value], [...flags!]])).toEqual([
      [
        [1, 3],
        [0, 2],
      ],
      [[2], [1]],
      [[4], [3]],
    ]);
  });
});
