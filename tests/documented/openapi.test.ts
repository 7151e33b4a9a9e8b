import { describe, expect, it } from 'vitest';
import { openapiDocument } from '../../api/contract/openapi.ts';
import { PAYLOADS } from '../../api/contract/payloads.ts';
import type { RoutePayload } from '../../api/contract/route-payload.ts';
import { ROUTE_IDS, ROUTES } from '../../api/contract/route-table.ts';

// biome-ignore lint/suspicious/noExplicitAny: a document of every shape is walked
const document = JSON.parse(JSON.stringify(openapiDocument('1.2.3'))) as any;

/** Every object in the document with the path that leads to it. */
function* objects(value: unknown, path = '#'): Generator<[string, Record<string, unknown>]> {
  if (typeof value !== 'object' || value === null) return;
  if (!Array.isArray(value)) yield [path, value as Record<string, unknown>];
  for (const [key, inner] of Object.entries(value)) yield* objects(inner, `${path}/${key}`);
}

/** What a JSON pointer names (RFC 6901). */
function resolve(pointer: string): unknown {
  return pointer
    .slice(2)
    .split('/')
    .map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'))
    .reduce((value: unknown, part) => (value as Record<string, unknown> | undefined)?.[part], document);
}

describe('the API description (OpenAPI 3.1.0)', () => {
  it('has what the specification requires (4.8.1 OpenAPI Object, 4.8.2 Info Object)', () => {
    expect(document.openapi).toBe('3.1.0');
    expect(document.info).toMatchObject({ title: expect.any(String), version: '1.2.3' });
    expect(document.info.license).toMatchObject({ name: 'MIT', identifier: 'MIT' });
  });
  it('describes every route of the table and no other', () => {
    const described = Object.entries(document.paths).flatMap(([path, item]) =>
      Object.keys(item as object).map((method) => `${method.toUpperCase()} ${path}`),
    );
    expect(described.sort()).toEqual(ROUTE_IDS.map((id) => `${ROUTES[id].method} ${ROUTES[id].path}`).sort());
    const ids = Object.values(document.paths).flatMap((item) =>
      Object.values(item as Record<string, { operationId: string }>).map((operation) => operation.operationId),
    );
    expect(new Set(ids).size).toBe(ids.length);
  });
  it.each(ROUTE_IDS)('%s names its parameters, body and answers', (id) => {
    const { method, path } = ROUTES[id];
    const payload: RoutePayload = PAYLOADS[id];
    const operation = document.paths[path][method.toLowerCase()];
    const inPath = [...path.matchAll(/\{(\w+)\}/g)].map((match) => match[1]);
    const parameters = (operation.parameters ?? []) as {
      name: string;
      in: string;
      required: boolean;
      schema: object;
    }[];
    // 4.8.12.1: a path parameter must be named in the path and be required.
    expect(parameters.filter((entry) => entry.in === 'path').map((entry) => entry.name)).toEqual(inPath);
    for (const entry of parameters.filter((one) => one.in === 'path')) expect(entry.required).toBe(true);
    expect(parameters.filter((entry) => entry.in === 'query').map((entry) => entry.name)).toEqual(
      Object.keys(payload.query.shape),
    );
    for (const entry of parameters) expect(Object.keys(entry.schema).length, entry.name).toBeGreaterThan(0);
    expect(operation.requestBody !== undefined).toBe(payload.body !== undefined);
    const statuses = [payload.status, ...Object.keys(payload.alsoStatus ?? {}), 'default'].map(String);
    expect(Object.keys(operation.responses)).toEqual(statuses);
    // 4.8.17: every response has a description.
    for (const response of Object.values(
      operation.responses as Record<string, { $ref?: string; description?: string }>,
    ))
      expect(response.$ref ?? response.description).toBeTruthy();
  });
  it('every reference leads somewhere', () => {
    const references = [...objects(document)].flatMap(([path, object]) =>
      typeof object['$ref'] === 'string' ? [[path, object['$ref']] as const] : [],
    );
    expect(references.length).toBeGreaterThan(ROUTE_IDS.length - 1);
    for (const [path, reference] of references) expect(resolve(reference), `${path} → ${reference}`).toBeDefined();
  });
  it('schemas are of JSON Schema 2020-12: known types, patterns that compile, required keys that exist', () => {
    const types = ['string', 'number', 'integer', 'boolean', 'null', 'array', 'object'];
    for (const [path, object] of objects(document.paths)) {
      if (path.endsWith('/properties')) continue;
      if (typeof object['type'] === 'string' && 'schema' in object === false && path.includes('schema'))
        expect(types, path).toContain(object['type']);
      if (typeof object['pattern'] === 'string')
        expect(() => new RegExp(object['pattern'] as string, 'u'), path).not.toThrow();
      if (Array.isArray(object['required']) && object['properties'])
        for (const key of object['required']) expect(Object.keys(object['properties'] as object), path).toContain(key);
    }
  });
  it('holds no zod left-over that says nothing of a required body', () => {
    for (const id of ROUTE_IDS) {
      const operation = document.paths[ROUTES[id].path][ROUTES[id].method.toLowerCase()];
      const schema = operation.requestBody?.content['application/json']?.schema;
      if (schema) expect(schema.type, id).toBe('object');
    }
  });
});
