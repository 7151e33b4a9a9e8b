import { escapeControls } from '../ingest/excerpt.ts';

/** Longest piece of a file that a message repeats. */
const EXCERPT_LENGTH = 40;

/** A cell as a message may show it: quoted, cut, control characters escaped. */
export function excerpt(text: string): string {
  return `"${escapeControls(text.length > EXCERPT_LENGTH ? `${text.slice(0, EXCERPT_LENGTH)}…` : text)}"`;
}
