import { followPointer, formatPointer, parsePointer } from '../../collector/model/json-pointer.ts';

/** A single value of a message, by its pointer. */
export interface Leaf {
  readonly pointer: string;
  /** The value as JSON, cut short. */
  readonly text: string;
}

/** Values shown of one message, and how deep it is looked into. */
const LEAVES_LIMIT = 60;
const DEPTH_LIMIT = 8;
const TEXT_LIMIT = 40;

/**
 * The single values of a JSON message that could be a reading or a time, in their order; with `entries`, those of the
 * first entry of the list it points to. Empty where the text isn't JSON or the list isn't there.
 */
export function messageLeaves(message: string, entries: string | undefined): Leaf[] {
  let document: unknown;
  try {
    document = JSON.parse(message);
  } catch {
    return [];
  }
  if (entries !== undefined) {
    const tokens = parsePointer(entries);
    const pointed = 'wrong' in tokens ? undefined : followPointer(tokens, document);
    if (!pointed?.found || !Array.isArray(pointed.value)) return [];
    document = pointed.value[0];
  }
  const found: Leaf[] = [];
  collect(document, [], found);
  return found;
}

function collect(value: unknown, path: readonly (string | number)[], found: Leaf[]): void {
  if (found.length >= LEAVES_LIMIT || path.length > DEPTH_LIMIT) return;
  if (Array.isArray(value)) for (const [index, item] of value.entries()) collect(item, [...path, index], found);
  else if (typeof value === 'object' && value !== null)
    for (const [name, item] of Object.entries(value)) collect(item, [...path, name], found);
  else if (value !== null && value !== undefined) {
    const text = JSON.stringify(value);
    const short = text.length > TEXT_LIMIT ? `${text.slice(0, TEXT_LIMIT)}…` : text;
    found.push({ pointer: formatPointer(path), text: short });
  }
}
