import { EXCERPT_BYTES, TOPIC_CHARACTERS } from './intake-limits.ts';

// C0 and C1 controls, line and paragraph separators, and the marks that turn the direction of text around:
// what would let a payload rewrite a terminal or a log line.
const CONTROL =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: finding them is the purpose
  /[\u0000-\u001f\u007f-\u009f\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]/g;

/** Control characters as `\u00XX`, so that the text can be shown, logged and compared without doing anything. */
export function escapeControls(text: string): string {
  return text.replace(CONTROL, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`);
}

/** The first 200 bytes of a payload as text; bytes that aren't UTF-8 show as U+FFFD, controls as `\u00XX`. */
export function excerpt(payload: Uint8Array): string {
  return escapeControls(new TextDecoder('utf-8', { ignoreBOM: true }).decode(payload.subarray(0, EXCERPT_BYTES)));
}

/** A topic as it may be shown: bounded, controls escaped. */
export function shownTopic(topic: string): string {
  const text = topic.length > TOPIC_CHARACTERS ? `${topic.slice(0, TOPIC_CHARACTERS)}…` : topic;
  return escapeControls(text);
}
