import { describe, expect, it } from 'vitest';
import { errorWords } from '../../ui/parts/error-words.ts';

describe('what is wrong with a part of a request', () => {
  it.each([
    ['body.mapping.channels.0.value', 'value: must begin with /'],
    ['query.from', 'from: must begin with /'],
    ['body', 'must begin with /'],
  ])('is said of the field alone, without the path that only a program knows: %s', (place, words) => {
    expect(errorWords({ place, message: 'must begin with /' })).toBe(words);
  });
});
