/** Longest piece of a file that a message repeats. */
const EXCERPT_LENGTH = 40;

/** A cell as a message may show it: quoted, cut, control characters escaped. */
export function excerpt(text: string): string {
  const cut = text.length > EXCERPT_LENGTH ? `${text.slice(0, EXCERPT_LENGTH)}…` : text;
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must not reach a terminal or a log
  const escaped = cut.replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069]/g, (character) => {
    return `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`;
  });
  return `"${escaped}"`;
}
