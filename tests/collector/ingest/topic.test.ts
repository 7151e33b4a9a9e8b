import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { allowedTopics, channelTopic, isUnder, readTopic, statusTopic } from '../../../collector/ingest/topic.ts';
import { CHANNELS } from '../../../collector/model/channel.ts';

describe('topics', () => {
  test.each([
    ['mainsdiary/front-hall/pressure', { kind: 'channel', loggerId: 'front-hall', channel: 'pressure' }],
    ['mainsdiary/a/signal', { kind: 'channel', loggerId: 'a', channel: 'signal' }],
    ['mainsdiary/pump_2/status', { kind: 'status', loggerId: 'pump_2' }],
    [`mainsdiary/${'x'.repeat(64)}/flow`, { kind: 'channel', loggerId: 'x'.repeat(64), channel: 'flow' }],
  ])('%s is read', (topic, expected) => expect(readTopic(topic)).toEqual(expected));

  test.each([
    '',
    'mainsdiary',
    'mainsdiary/front-hall',
    'mainsdiary/front-hall/',
    'mainsdiary//pressure',
    'mainsdiary/Front-Hall/pressure',
    'mainsdiary/front hall/pressure',
    `mainsdiary/${'x'.repeat(65)}/pressure`,
    'mainsdiary/front-hall/pressure/raw',
    'mainsdiary/front-hall/Pressure',
    'mainsdiary/front-hall/__proto__',
    '/mainsdiary/front-hall/pressure',
    'other/front-hall/pressure',
    'mainsdiary/front-hall/press\u0000ure',
  ])('%j is refused with a reason', (topic) => {
    const read = readTopic(topic);
    expect(read.kind).toBe('refused');
    expect(read.kind === 'refused' && read.reason.length).toBeGreaterThan(10);
  });

  test('a wrong channel under a good name still tells whose message it was', () => {
    expect(readTopic('mainsdiary/front-hall/humidity')).toMatchObject({ kind: 'refused', loggerId: 'front-hall' });
  });

  test('what is written is read back, for every logger and channel', () => {
    const loggerId = fc.stringMatching(/^[a-z0-9_-]{1,64}$/);
    fc.assert(
      fc.property(loggerId, fc.constantFrom(...CHANNELS), (id, channel) => {
        expect(readTopic(channelTopic(id, channel))).toEqual({ kind: 'channel', loggerId: id, channel });
        expect(readTopic(statusTopic(id))).toEqual({ kind: 'status', loggerId: id });
        expect(isUnder(channelTopic(id, channel), id)).toBe(true);
        expect(isUnder(channelTopic(`${id}x`.slice(0, 64), channel), id)).toBe(id.length === 64);
      }),
    );
  });

  test('any text at all is either read or refused', () => {
    fc.assert(fc.property(fc.string({ unit: 'binary' }), (topic) => void readTopic(topic)));
  });

  test('people are told the topics that would do', () => {
    expect(allowedTopics('front-hall')).toBe(
      'mainsdiary/front-hall/{pressure|flow|pump|temperature|battery|signal|status}',
    );
  });
});
