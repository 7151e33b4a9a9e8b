/*
 * JSON Pointer, RFC 6901, in its string form: `/sensors/0/pressure`. The empty pointer is the whole document; `~1`
 * stands for `/` and `~0` for `~` in a member's name.
 */

/** Characters of a pointer that are read. */
export const POINTER_CHARACTERS = 200;

/** The names and indices a pointer goes through (RFC 6901 section 3), or why the text is no pointer. */
export function parsePointer(text: string): readonly string[] | { readonly wrong: string } {
  if (text === '') return [];
  if (text.length > POINTER_CHARACTERS) return { wrong: `has more than ${POINTER_CHARACTERS} characters` };
  if (!text.startsWith('/')) return { wrong: 'must begin with /, or be empty for the whole message' };
  if (/~(?![01])/.test(text)) return { wrong: 'has a ~ that is followed by neither 0 nor 1: write ~0 for ~, ~1 for /' };
  return text.slice(1).split('/').map(unescapeToken);
}

/** First `~1`, then `~0`, so that `~01` becomes `~1` and not `/` (section 4). */
function unescapeToken(token: string): string {
  return token.replaceAll('~1', '/').replaceAll('~0', '~');
}

/** The pointer through these names and indices. */
export function formatPointer(tokens: readonly (string | number)[]): string {
  return tokens.map((token) => `/${String(token).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');
}

/** What a pointer leads to. `depth`: how many of its tokens led somewhere; `at`: the value where it ended. */
export type Pointed =
  | { readonly found: true; readonly value: unknown }
  | { readonly found: false; readonly depth: number; readonly at: unknown };

// Section 4: no leading zeros; `-` is the element after the last, which never exists in a document that is read.
const ARRAY_INDEX = /^(?:0|[1-9]\d*)$/;

/** Follows a pointer through a parsed document. Members that the document itself doesn't have are never found. */
export function followPointer(tokens: readonly string[], document: unknown): Pointed {
  let at = document;
  for (const [depth, token] of tokens.entries()) {
    if (Array.isArray(at) && ARRAY_INDEX.test(token) && Number(token) < at.length) at = at[Number(token)] as unknown;
    else if (typeof at === 'object' && at !== null && !Array.isArray(at) && Object.hasOwn(at, token))
      at = (at as Readonly<Record<string, unknown>>)[token];
    else return { found: false, depth, at };
  }
  return { found: true, value: at };
}
