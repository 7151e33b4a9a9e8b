import { z } from 'zod';
import { ROUTES, type RouteId } from '../../../api/contract/route-table.ts';
import type { Answer } from './asking.ts';

// biome-ignore lint/suspicious/noExplicitAny: a JSON Schema of every shape is walked
type Schema = any;

/** Holds answers to the description that the server itself gives of them, word by word: no key that it doesn't name. */
export function strictReader(openapi: Schema): (id: RouteId, answer: Answer) => string[] {
  const kept = new Map<string, z.ZodType>();
  const strict = (schema: Schema, name: string): z.ZodType => {
    const known = kept.get(name) ?? z.fromJSONSchema(closed(schema));
    kept.set(name, known);
    return known;
  };
  return (id, answer) => {
    const { method, path } = ROUTES[id];
    const operation = openapi.paths[path][method.toLowerCase()];
    const described = operation.responses[String(answer.status)];
    const type = String(answer.headers['content-type'] ?? '').split(';')[0] as string;
    if (answer.status >= 400 && !described) {
      if (type !== 'application/problem+json') return [`a problem came as ${type}`];
      // RFC 9457, 3.2: a problem may bring members of its own.
      const problem = strict(openapi.components.schemas.Problem, 'Problem').safeParse(
        Object.fromEntries(
          Object.entries(answer.json).filter(([key]) => key in openapi.components.schemas.Problem.properties),
        ),
      );
      return faults(problem);
    }
    if (!described) return [`the status ${answer.status} is not described`];
    if (!described.content) return answer.text === '' ? [] : [`nothing was to come, not ${answer.text.slice(0, 80)}`];
    const content = described.content[type];
    if (!content) return [`${type} is not described, only ${Object.keys(described.content)}`];
    if (type !== 'application/json') return [];
    return faults(strict(content.schema, `${id} ${answer.status}`).safeParse(answer.json));
  };
}

/** A schema whose objects take only what they name, also where further keys are welcome to readers. */
function closed(schema: Schema): Schema {
  if (Array.isArray(schema)) return schema.map(closed);
  if (typeof schema !== 'object' || schema === null) return schema;
  const inner = Object.fromEntries(Object.entries(schema).map(([key, value]) => [key, closed(value)]));
  return schema.type === 'object' && schema.properties && Object.keys(schema.properties).length > 0
    ? { ...inner, additionalProperties: false }
    : inner;
}

function faults(read: z.ZodSafeParseResult<unknown>): string[] {
  return read.success ? [] : read.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`);
}
