import { z } from 'zod';
import { PAYLOADS } from './payloads.ts';
import type { RoutePayload } from './route-payload.ts';
import { ROUTE_IDS, ROUTES, type RouteId } from './route-table.ts';

type JsonSchema = Readonly<Record<string, unknown>>;

const PROBLEM_SCHEMA: JsonSchema = {
  type: 'object',
  description: 'RFC 9457 problem details',
  properties: {
    type: { type: 'string' },
    title: { type: 'string' },
    status: { type: 'integer' },
    detail: { type: 'string', description: 'What happened, with the value seen' },
    code: { type: 'string', description: 'Stable; listed in DEVELOPERS.md' },
    hint: { type: 'string', description: 'What to do next' },
    errors: {
      type: 'array',
      items: {
        type: 'object',
        properties: { place: { type: 'string' }, message: { type: 'string' } },
        required: ['place', 'message'],
      },
    },
  },
  required: ['type', 'title', 'status', 'detail', 'code', 'hint'],
};

/** The API described as OpenAPI 3.1, made from the route table and the schemas that the server itself checks by. */
export function openapiDocument(version: string): Readonly<Record<string, unknown>> {
  const paths: Record<string, Record<string, unknown>> = {};
  for (const id of ROUTE_IDS) {
    const { method, path } = ROUTES[id];
    paths[path] ??= {};
    paths[path][method.toLowerCase()] = operation(id);
  }
  return {
    openapi: '3.1.0',
    jsonSchemaDialect: 'https://json-schema.org/draft/2020-12/schema',
    info: {
      title: 'Mains Diary',
      version,
      description:
        'A diary of the water pressure at a house. Times are RFC 3339 in UTC, pressures bar (gauge), flows l/min, intervals half open [start, end). What changes state must come from our own page or without an Origin.',
      license: { name: 'MIT', identifier: 'MIT' },
    },
    servers: [{ url: '/' }],
    paths,
    components: {
      schemas: { Problem: PROBLEM_SCHEMA },
      responses: {
        Problem: {
          description: 'What went wrong',
          content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
        },
      },
      securitySchemes: {
        session: { type: 'apiKey', in: 'cookie', name: 'mainsdiary_session' },
        command: { type: 'http', scheme: 'bearer' },
      },
    },
    security: [{}, { session: [] }, { command: [] }],
  };
}

function operation(id: RouteId): Record<string, unknown> {
  const payload: RoutePayload = PAYLOADS[id];
  const parameters = [...parametersOf(payload.params, 'path'), ...parametersOf(payload.query, 'query')];
  return {
    operationId: id,
    summary: ROUTES[id].summary,
    ...(parameters.length > 0 ? { parameters } : {}),
    ...(payload.body
      ? {
          requestBody: {
            required: true,
            content: contentOf(payload.bodyTypes ?? ['application/json'], payload.body, 'input'),
          },
        }
      : {}),
    responses: {
      [payload.status]: payload.response
        ? {
            description: ROUTES[id].summary,
            content: contentOf(
              payload.responseTypes ?? ['application/json'],
              payload.response,
              'output',
              payload.responseForms,
            ),
          }
        : { description: payload.status === 101 ? 'The connection becomes a WebSocket' : 'Done' },
      ...Object.fromEntries(
        Object.entries(payload.alsoStatus ?? {}).map(([status, description]) => [
          status,
          {
            description,
            ...(payload.response ? { content: contentOf(['application/json'], payload.response, 'output') } : {}),
          },
        ]),
      ),
      default: { $ref: '#/components/responses/Problem' },
    },
  };
}

/** A JSON type takes the schema; any other is bytes or text. */
function contentOf(
  types: readonly string[],
  schema: z.ZodType,
  io: 'input' | 'output',
  forms: Readonly<Record<string, string>> = {},
) {
  return Object.fromEntries(
    types.map((type) => {
      const description = forms[type];
      const other = { type: 'string', ...(description === undefined ? {} : { description }) };
      return [type, { schema: type === 'application/json' ? toJson(schema, io) : other }];
    }),
  );
}

function parametersOf(schema: z.ZodObject, place: 'path' | 'query'): Record<string, unknown>[] {
  return Object.entries(schema.shape).map(([name, part]) => {
    const { default: fallback, ...rest } = toJson(part as z.ZodType, 'input');
    const required = place === 'path' || !(part as z.ZodType).safeParse(undefined).success;
    return { name, in: place, required, schema: fallback === undefined ? rest : { ...rest, default: fallback } };
  });
}

function toJson(schema: z.ZodType, io: 'input' | 'output'): JsonSchema {
  const { $schema: _, ...rest } = z.toJSONSchema(schema, { target: 'draft-2020-12', io, unrepresentable: 'any' });
  return rest;
}
