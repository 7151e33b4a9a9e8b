import { describe, expect, it } from 'vitest';
import { filterFault, filterMatches, filtersOverlap } from '../../../collector/model/topic-filter.ts';

/** Examples of MQTT 3.1.1 (OASIS standard, 2014), sections 4.7.1.2, 4.7.1.3, 4.7.2 and 4.7.3. */
const MATCHES: readonly [filter: string, topic: string, matches: boolean][] = [
  ['sport/tennis/player1/#', 'sport/tennis/player1', true],
  ['sport/tennis/player1/#', 'sport/tennis/player1/ranking', true],
  ['sport/tennis/player1/#', 'sport/tennis/player1/score/wimbledon', true],
  ['sport/#', 'sport', true],
  ['#', 'sport/tennis', true],
  ['sport/tennis/+', 'sport/tennis/player1', true],
  ['sport/tennis/+', 'sport/tennis/player2', true],
  ['sport/tennis/+', 'sport/tennis/player1/ranking', false],
  ['sport/+', 'sport', false],
  ['sport/+', 'sport/', true],
  ['+/+', '/finance', true],
  ['/+', '/finance', true],
  ['+', '/finance', false],
  ['#', '$SYS/broker', false],
  ['+/monitor/Clients', '$SYS/monitor/Clients', false],
  ['$SYS/#', '$SYS/broker', true],
  ['$SYS/monitor/+', '$SYS/monitor/Clients', true],
  ['ACCOUNTS', 'Accounts', false],
];
const VALID = [
  '#',
  'sport/tennis/#',
  '+',
  '+/tennis/#',
  'sport/+/player1',
  '/',
  '/finance',
  'a//b',
  'Accounts payable',
];
const INVALID = [
  '',
  'sport/tennis#',
  'sport/tennis/#/ranking',
  'sport+',
  'a\u0000b',
  'x'.repeat(201),
  'a/b/c/d/e/f/g/h/i/j/k',
];

describe('a topic filter', () => {
  it.each(MATCHES)('%s and the topic %s: %s', (filter, topic, matches) =>
    expect(filterMatches(filter, topic)).toBe(matches),
  );
  it.each(VALID)('%j is one', (filter) => expect(filterFault(filter)).toBeUndefined());
  it.each(INVALID)('%j is none', (filter) => expect(filterFault(filter)).toMatch(/^(is|has) /));

  it('overlaps another exactly where some topic lies under both: every filter and topic of up to three levels', () => {
    const levels = (words: readonly string[], most: number): string[] =>
      most === 1
        ? [...words]
        : words.flatMap((word) => [word, ...levels(words, most - 1).map((rest) => `${word}/${rest}`)]);
    const unique = (all: string[]) => [...new Set(all)];
    const filters = unique(levels(['a', '$b', '', '+', '#'], 3)).filter((filter) => !filterFault(filter));
    const topics = unique(levels(['a', '$b', '', 'z'], 4));
    const under = new Map(filters.map((filter) => [filter, topics.filter((topic) => filterMatches(filter, topic))]));
    for (const one of filters)
      for (const other of filters) {
        const common = under.get(one)!.some((topic) => under.get(other)!.includes(topic));
        if (filtersOverlap(one, other) !== common) throw new Error(`${one} and ${other}: ${common}`);
      }
    expect(filters.length).toBeGreaterThan(60);
  });
});
