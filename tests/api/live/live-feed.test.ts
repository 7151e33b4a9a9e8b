import { expect, it } from 'vitest';
import type { LiveFrame } from '../../../api/contract/live-frames.ts';
import { createLiveFeed } from '../../../api/live/live-feed.ts';
import type { StoredNotice } from '../../../collector/ports.ts';

const LOG = { info() {}, warn() {}, error() {} };
const notice = (loggerId: string, timesMs: number[], values: number[], unit = 'bar'): StoredNotice => ({
  loggerId,
  channel: 'pressure',
  unit,
  arrivedMs: 0,
  timeMs: Float64Array.from(timesMs),
  value: Float64Array.from(values),
});

function feedWith(readers: number) {
  let tick = () => {};
  const sent: LiveFrame[] = [];
  const clock = {
    nowMs: () => 0,
    every(_intervalMs: number, action: () => void) {
      tick = action;
      return () => {};
    },
  };
  const calibration = {
    loggerId: 'a',
    channel: 'pressure' as const,
    fromMs: 1000,
    gain: 1,
    offset: 0.5,
    standardUncertainty: 0.01,
    note: '',
  };
  const settings = { channelSettings: async () => [], calibrations: async () => [calibration] };
  const feed = createLiveFeed({ settings, clock, log: LOG, readers: () => readers, send: (frame) => sent.push(frame) });
  const flush = async () => {
    tick();
    await new Promise((resolve) => setImmediate(resolve));
  };
  return { feed, sent, flush };
}

it('joins what came between two frames, each sample read by its own settings', async () => {
  const { feed, sent, flush } = feedWith(1);
  feed.stored(notice('a', [900], [2]));
  feed.stored(notice('b', [900], [3]));
  feed.stored(notice('a', [1000, 1100], [2, 2.1]));
  await flush();
  expect(sent).toEqual([
    {
      type: 'samples',
      version: 1,
      series: [
        { logger: 'a', channel: 'pressure', unit: 'bar', timeMs: [900, 1000, 1100], value: [2, 2.5, 2.6] },
        { logger: 'b', channel: 'pressure', unit: 'bar', timeMs: [900], value: [3] },
      ],
    },
  ]);
  await flush();
  expect(sent).toHaveLength(1);
});

it('sends what cannot be converted as sent, with its unit', async () => {
  const { feed, sent, flush } = feedWith(1);
  feed.stored(notice('a', [900], [2.5], 'V'));
  await flush();
  expect(sent).toMatchObject([{ series: [{ unit: 'V', value: [2.5] }] }]);
});

it('tells of an avalanche instead of sending it, and gathers nothing while nobody looks', async () => {
  const many = feedWith(1);
  many.feed.stored(
    notice(
      'a',
      Array.from({ length: 6000 }, (_, i) => i),
      Array(6000).fill(2),
    ),
  );
  await many.flush();
  expect(many.sent).toEqual([{ type: 'changed', version: 1, what: 'samples', id: 'a' }]);
  const alone = feedWith(0);
  alone.feed.stored(notice('a', [1], [2]));
  await alone.flush();
  expect(alone.sent).toEqual([]);
});
