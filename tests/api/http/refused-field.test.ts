import { describe, expect, it } from 'vitest';
import { z } from 'zod';
import { PAYLOADS } from '../../../api/contract/payloads.ts';
import type { RoutePayload } from '../../../api/contract/route-payload.ts';
import { ROUTE_IDS } from '../../../api/contract/route-table.ts';
import { requestProblem } from '../../../api/http/problem-response.ts';

const RAW = /Too big|Too small|Invalid|Unrecognized|expected|received|undefined|NaN/;
const WRONG: readonly unknown[] = [
  null,
  true,
  'x'.repeat(100_000),
  '',
  1e12,
  -1e12,
  1.5,
  [],
  [{}],
  {},
  new Array(5000).fill(0),
];

type Described = { readonly properties?: Record<string, Described>; readonly anyOf?: readonly Described[] };

/** Every field of a described object, as bodies that hold nothing but one wrong value in it. */
function bodies(described: Described): unknown[] {
  return [described, ...(described.anyOf ?? [])].flatMap(({ properties = {} }) =>
    Object.entries(properties).flatMap(([name, inner]) => [
      ...WRONG.map((value) => ({ [name]: value })),
      ...bodies(inner).map((value) => ({ [name]: value })),
    ]),
  );
}

const places = ROUTE_IDS.flatMap((id) => {
  const payload: RoutePayload = PAYLOADS[id];
  return (['params', 'query', 'body'] as const).flatMap((place) => {
    const schema = place === 'body' && payload.bodyTypes ? undefined : payload[place];
    return schema ? [{ id, place, schema }] : [];
  });
});

describe('a refused field', () => {
  it.each(places)('is told in plain words, short, at $id in its $place', ({ place, schema }) => {
    const described = z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as Described;
    for (const sent of [{ strange: 1 }, ...WRONG, ...bodies(described)]) {
      const result = schema.safeParse(sent);
      if (result.success) continue;
      const { errors } = requestProblem(place, result.error, sent).details as { errors: { message: string }[] };
      for (const { message } of errors) {
        expect(message).not.toMatch(RAW);
        expect(message.length).toBeLessThan(700);
      }
    }
  });

  it.each([
    [z.number().max(5), 9, 'must be at most 5, not 9'],
    [z.number().min(1), '7', 'must be a number, not "7"'],
    [z.string().max(100), 'x'.repeat(101), 'must be at most 100 characters long, not 101 characters'],
    [z.enum(['bar', 'psi']), 'inch', 'must be "bar" or "psi", not "inch"'],
    [z.array(z.number()).max(1), [1, 2], 'must be a list of at most 1 entry, not a list of 2'],
    [z.union([z.number(), z.boolean()]), 'x', 'must be a number or true or false, not "x"'],
    [z.string().min(1, 'needs a name'), '', 'needs a name'],
  ])('says what was given and what may be (%#)', (schema, value, words) => {
    const sent = { field: value };
    const result = z.object({ field: schema as z.ZodType }).safeParse(sent);
    if (result.success) throw new Error('was taken');
    expect(requestProblem('body', result.error, sent).message).toBe(`body.field: ${words}`);
  });

  it('never tells a password back', () => {
    const sent = { password: 'short' };
    const result = z.object({ password: z.string().min(12) }).safeParse(sent);
    if (result.success) throw new Error('was taken');
    expect(requestProblem('body', result.error, sent).message).toBe(
      'body.password: must be at least 12 characters long',
    );
  });
});
