import type { z } from 'zod';

/** Longest piece of what was sent that is told back. */
const GIVEN_LIMIT = 60;
/** Alternatives told by name; a longer list is the description's to tell. */
const CHOICES_LIMIT = 20;

/** How the schema library's own messages begin; any other message was written beside the schema and is kept. */
const SCHEMA_LIBRARY_WORDS = /^(Too (big|small)|Invalid|Unrecognized)/;
/** Fields whose value is never told back. */
const SECRET = /password|key|secret|token|code/i;

type Issue = z.core.$ZodIssue;

/** What may be given in a refused field and what was given, in plain words. `sent`: the part of the request checked. */
export function refusedField(issue: Issue, sent: unknown): string {
  if (!SCHEMA_LIBRARY_WORDS.test(issue.message)) return issue.message;
  if (issue.code === 'unrecognized_keys')
    return `takes no ${issue.keys
      .slice(0, CHOICES_LIMIT)
      .map((key) => given(key))
      .join(', ')}`;
  const value = valueAt(sent, issue.path);
  const may = mayBe(issue);
  if (value === undefined) return `is missing; it must be ${may}`;
  if (SECRET.test(String(issue.path.at(-1) ?? ''))) return `must be ${may}`;
  return `must be ${may}, not ${given(value, issue)}`;
}

const OTHER_FORM = 'of the form that the description tells';

function mayBe(issue: Issue): string {
  switch (issue.code) {
    case 'too_big':
      return limit(issue.origin, Number(issue.maximum), issue.inclusive === false ? 'less than' : 'at most');
    case 'too_small':
      return limit(issue.origin, Number(issue.minimum), issue.inclusive === false ? 'more than' : 'at least');
    case 'invalid_type':
      return kind(issue.expected);
    case 'invalid_value':
      return issue.values.length > CHOICES_LIMIT
        ? 'one of the values that the description lists'
        : choices(issue.values.map((value) => JSON.stringify(value) ?? String(value)));
    case 'not_multiple_of':
      return `a multiple of ${issue.divisor}`;
    case 'invalid_union': {
      const branches = issue.errors.flatMap(([first]) => (first && first.path.length === 0 ? [mayBe(first)] : []));
      return branches.length === 0 ? OTHER_FORM : choices([...new Set(branches)]);
    }
    case 'invalid_format':
    case 'invalid_key':
    case 'invalid_element':
    case 'unrecognized_keys':
    case 'custom':
      return OTHER_FORM;
    default:
      return issue satisfies never;
  }
}

function limit(origin: string, bound: number, relation: string): string {
  switch (origin) {
    case 'string':
      return `${relation} ${bound} ${bound === 1 ? 'character' : 'characters'} long`;
    case 'array':
    case 'set':
      return `a list of ${relation} ${bound} ${bound === 1 ? 'entry' : 'entries'}`;
    default:
      return `${relation} ${bound}`;
  }
}

function kind(expected: string): string {
  switch (expected) {
    case 'string':
      return 'a text';
    case 'number':
      return 'a number';
    case 'int':
      return 'a whole number';
    case 'boolean':
      return 'true or false';
    case 'array':
    case 'tuple':
      return 'a list';
    case 'object':
    case 'record':
      return 'an object of named fields';
    case 'null':
      return 'null';
    default:
      return `of the kind ${expected}`;
  }
}

function choices(words: readonly string[]): string {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} or ${words.at(-1)}`;
}

function valueAt(sent: unknown, path: readonly PropertyKey[]): unknown {
  let value = sent;
  for (const step of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, step)) return undefined;
    value = (value as Record<PropertyKey, unknown>)[step];
  }
  return value;
}

/** What was sent, cut short; of something long or nested only its size and kind. */
function given(value: unknown, issue?: Issue): string {
  if (Array.isArray(value)) return `a list of ${value.length}`;
  if (typeof value === 'object' && value !== null) return 'an object';
  if (typeof value === 'string') {
    const tooLong = issue?.code === 'too_big' && issue.origin === 'string';
    if (tooLong && value.length > GIVEN_LIMIT) return `${value.length} characters`;
    return JSON.stringify(value.length > GIVEN_LIMIT ? `${value.slice(0, GIVEN_LIMIT)}…` : value);
  }
  return String(value);
}
