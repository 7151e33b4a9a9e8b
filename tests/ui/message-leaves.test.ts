import { describe, expect, it } from 'vitest';
import { followPointer, parsePointer } from '../../collector/model/json-pointer.ts';
import { messageLeaves } from '../../ui/pages/message-leaves.ts';

describe('the values of a pasted message', () => {
  it('are found with the pointers that lead to them', () => {
    const message = '{"a/b":[1,{"~":"x"}],"t":null,"on":true}';
    const leaves = messageLeaves(message, undefined);
    expect(leaves).toEqual([
      { pointer: '/a~1b/0', text: '1' },
      { pointer: '/a~1b/1/~0', text: '"x"' },
      { pointer: '/on', text: 'true' },
    ]);
    for (const { pointer, text } of leaves) {
      const pointed = followPointer(parsePointer(pointer) as string[], JSON.parse(message));
      expect(pointed.found && JSON.stringify(pointed.value)).toBe(text);
    }
  });
  it('of a list are those of its first entry', () =>
    expect(messageLeaves('{"log":[{"v":1},{"v":2}]}', '/log')).toEqual([{ pointer: '/v', text: '1' }]));
  it('of a bare number is the whole message', () =>
    expect(messageLeaves('1.5', undefined)).toEqual([{ pointer: '', text: '1.5' }]));
  it.each([
    ['', undefined],
    ['{', undefined],
    ['{"a":1}', '/log'],
    ['[]', 'x'],
  ])('%j with the list at %j has none', (message, list) => expect(messageLeaves(message, list)).toEqual([]));
  it('are bounded', () => {
    expect(messageLeaves(JSON.stringify(Array.from({ length: 500 }, (_, i) => i)), undefined)).toHaveLength(60);
    expect(messageLeaves(`${'['.repeat(50_000)}1${']'.repeat(50_000)}`, undefined)).toEqual([]);
  });
});
