import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { followPointer, formatPointer, parsePointer } from '../../../collector/model/json-pointer.ts';

/** The document of RFC 6901, section 5. */
const DOCUMENT: unknown = JSON.parse(
  String.raw`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`,
);
const follow = (pointer: string, document: unknown = DOCUMENT) => {
  const tokens = parsePointer(pointer);
  return 'wrong' in tokens ? tokens : followPointer(tokens, document);
};

describe('a JSON Pointer', () => {
  it.each([
    ['', DOCUMENT],
    ['/foo', ['bar', 'baz']],
    ['/foo/0', 'bar'],
    ['/', 0],
    ['/a~1b', 1],
    ['/c%d', 2],
    ['/e^f', 3],
    ['/g|h', 4],
    ['/i\\j', 5],
    ['/k"l', 6],
    ['/ ', 7],
    ['/m~0n', 8],
  ])('%j leads where RFC 6901 section 5 says', (pointer, value) =>
    expect(follow(pointer)).toEqual({ found: true, value }),
  );

  // Section 4: no leading zeros, `-` is never there, nothing is inherited; section 3: the escapes.
  it.each(['/foo/00', '/foo/01', '/foo/-', '/foo/2', '/foo/-1', '/foo/1.0', '/foo/length', '/toString', '/__proto__'])(
    '%j leads nowhere',
    (pointer) => expect(follow(pointer)).toMatchObject({ found: false }),
  );
  it.each(['foo', '#/foo', '/a~', '/a~2b', '/~~0'])('%j is none', (pointer) =>
    expect(follow(pointer)).toHaveProperty('wrong'),
  );
  it('~01 is ~1, as section 4 explains', () => expect(parsePointer('/~01')).toEqual(['~1']));

  it('is read back from any names, and leads through any document', () => {
    fc.assert(
      fc.property(fc.array(fc.string({ maxLength: 10 }), { maxLength: 6 }), (tokens) => {
        expect(parsePointer(formatPointer(tokens))).toEqual(tokens);
        const document = tokens.reduceRight<unknown>((inner, token) => ({ [`${token}`]: inner, other: 1 }), 'end');
        const pointed = followPointer(tokens, document);
        // `{"__proto__": …}` in a literal sets no member; a parsed document has one.
        if (!tokens.includes('__proto__') && !tokens.includes('other'))
          expect(pointed).toEqual({ found: true, value: 'end' });
      }),
    );
  });
});
