/*
 * Topic filters by MQTT 3.1.1 section 4.7: `+` stands for one level, `#` at the end for the level above it and all that
 * follow. A wildcard in the first place never stands for a level that begins with `$` (4.7.2-1).
 */

/** Characters of a filter that a device may name; the standard's own bound is 65,535 bytes. */
export const FILTER_CHARACTERS = 200;
/** Levels of a filter: the embedded broker takes no deeper topic. */
export const FILTER_LEVELS = 10;

/** Why a text is no topic filter, as the end of a sentence that begins with it; undefined where it is one. */
export function filterFault(filter: string): string | undefined {
  if (filter === '') return 'is empty';
  if (filter.length > FILTER_CHARACTERS) return `has more than ${FILTER_CHARACTERS} characters`;
  // biome-ignore lint/suspicious/noControlCharactersInRegex: finding them is the purpose
  if (/[\u0000-\u001f\u007f-\u009f]|[\ud800-\udfff]/u.test(filter)) return 'has control characters';
  const levels = filter.split('/');
  if (levels.length > FILTER_LEVELS) return `has more than ${FILTER_LEVELS} levels`;
  for (const [index, level] of levels.entries()) {
    if (level.includes('#') && (level !== '#' || index !== levels.length - 1))
      return 'has a # that is not the whole of its last level';
    if (level.includes('+') && level !== '+') return 'has a + that is not a whole level';
  }
  return undefined;
}

/** Whether a topic that was published to lies under a filter. */
export function filterMatches(filter: string, topic: string): boolean {
  const wanted = filter.split('/');
  const levels = topic.split('/');
  if (levels[0]!.startsWith('$') && (wanted[0] === '+' || wanted[0] === '#')) return false;
  for (const [index, want] of wanted.entries()) {
    // Also where the topic has ended: `a/#` stands for `a` itself too (4.7.1.2).
    if (want === '#') return true;
    if (index >= levels.length || (want !== '+' && want !== levels[index])) return false;
  }
  return wanted.length === levels.length;
}

/** Whether some topic lies under both filters. */
export function filtersOverlap(one: string, other: string): boolean {
  const a = one.split('/');
  const b = other.split('/');
  if (isHidden(a[0]!, b[0]!) || isHidden(b[0]!, a[0]!)) return false;
  for (let i = 0; i < Math.max(a.length, b.length); i++) {
    if (a[i] === '#' || b[i] === '#') return true;
    if (a[i] === undefined || b[i] === undefined) return false;
    if (a[i] !== '+' && b[i] !== '+' && a[i] !== b[i]) return false;
  }
  return true;
}

function isHidden(wildcard: string, level: string): boolean {
  return (wildcard === '+' || wildcard === '#') && level.startsWith('$');
}
