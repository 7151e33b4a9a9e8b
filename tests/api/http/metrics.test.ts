import { connectAsync } from 'mqtt';
import { expect, it } from 'vitest';
import { askRoute } from './asking.ts';
import { startServer } from './running-server.ts';

/*
 * Text exposition format 0.0.4 of Prometheus (prometheus.io/docs/instrumenting/exposition_formats, from memory): each
 * line is empty, a comment `# HELP name text` / `# TYPE name type`, or `name{label="value",…} number`.
 */
const COMMENT = /^# (HELP [a-zA-Z_:][\w:]* .*|TYPE [a-zA-Z_:][\w:]* (counter|gauge|histogram|summary|untyped))$/;
const SAMPLE =
  /^([a-zA-Z_:][\w:]*)(\{[a-zA-Z_]\w*="[^"\\\n]*"(,[a-zA-Z_]\w*="[^"\\\n]*")*\})? (-?\d[\d.eE+-]*|NaN|[+-]Inf)$/;

it('metrics are text that Prometheus reads, and count what came', async () => {
  const server = await startServer();
  try {
    const base = server.url;
    const site = (await askRoute(base, 'createSite', { body: { name: 'A', timeZone: 'UTC' } })).json.id;
    const { key } = (await askRoute(base, 'createLogger', { body: { id: 'front-hall', site } })).json;
    const logger = await connectAsync(`mqtt://127.0.0.1:${server.mqttPort}`, { username: 'front-hall', password: key });
    const publish = (payload: string) => logger.publishAsync('mainsdiary/front-hall/pressure', payload, { qos: 1 });
    await publish('{"time":"2026-05-04T06:31:07Z","value":1.482}');
    await publish('{"time":"2026-05-04T06:31:07Z","value":1.482}');
    await publish('{"time":"2026-05-04T06:31:07Z","value":1.5}');
    await publish('what is that');
    await logger.endAsync();
    const answer = await askRoute(base, 'metrics');
    expect(answer.headers['content-type']).toMatch(/^text\/plain; version=0\.0\.4/);
    const values = new Map<string, number>();
    for (const line of answer.text.trimEnd().split('\n')) {
      if (line === '' || COMMENT.test(line)) continue;
      const match = SAMPLE.exec(line);
      expect(match, line).not.toBeNull();
      values.set(`${match![1]}${match![2] ?? ''}`, Number(match![4]));
    }
    expect(values.get('mainsdiary_messages_total')).toBe(4);
    expect(values.get('mainsdiary_samples_stored_total')).toBe(1);
    expect(values.get('mainsdiary_samples_duplicate_total')).toBe(1);
    expect(values.get('mainsdiary_samples_conflict_total')).toBe(1);
    expect(values.get('mainsdiary_entries_refused_total')).toBe(1);
    expect(values.get('mainsdiary_store_well')).toBe(1);
    expect(values.get('mainsdiary_disk_free_bytes')).toBeGreaterThan(0);
    expect(values.has('mainsdiary_disk_days_left')).toBe(false);
    expect(values.get('mainsdiary_broker_well')).toBe(1);
    expect(values.get('mainsdiary_http_request_seconds_count{route="createSite",status="201"}')).toBe(1);
    const refusals = (await askRoute(base, 'loggerRefusals', { params: { id: 'front-hall' } })).json;
    expect(refusals).toMatchObject([{ topic: 'mainsdiary/front-hall/pressure', excerpt: 'what is that' }]);
    expect((await askRoute(base, 'getLogger', { params: { id: 'front-hall' } })).json.refused).toBe(1);
  } finally {
    await server.stop();
  }
});
