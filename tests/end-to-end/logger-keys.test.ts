import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addLogger, addSite, api, exportedSamples } from '../support/api.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';

let program: RunningProgram;
let site: string;
beforeAll(async () => {
  program = await startProgram();
  site = await addSite(program.base);
});
afterAll(async () => {
  await program.stop();
});

function connect(username: string, password: string): Promise<MqttClient> {
  return connectAsync(`mqtt://127.0.0.1:${program.mqttPort}`, {
    username,
    password,
    clientId: `${username}-test`,
    reconnectPeriod: 0,
  });
}
const closed = (client: MqttClient) => new Promise<void>((resolve) => client.once('close', () => resolve()));

describe("a logger's key", () => {
  it('lets it publish under its own topic and nothing else; the page shows what was refused', async () => {
    const key = await addLogger(program.base, site, 'front-hall');
    await addLogger(program.base, site, 'cellar');
    const client = await connect('front-hall', key);
    await client.publishAsync('mainsdiary/front-hall/pressure', '1.482', { qos: 1 });
    expect((await exportedSamples(program.base, 'front-hall')).map(([, value]) => value)).toEqual([1.482]);

    const ended = closed(client);
    client.on('error', () => {});
    client.publish('mainsdiary/cellar/pressure', '9.9', { qos: 1 });
    await ended;
    expect(await exportedSamples(program.base, 'cellar')).toEqual([]);
    const refusals = await eventually(
      () => api<{ topic: string; reason: string }[]>(program.base, 'GET', '/api/loggers/front-hall/refusals'),
      (found) => found.length > 0,
    );
    expect(refusals[0]).toMatchObject({ topic: 'mainsdiary/cellar/pressure' });
  });

  it('ends the old connections when it is renewed or the logger is deleted', async () => {
    const key = await addLogger(program.base, site, 'loft');
    const first = await connect('loft', key);
    const firstEnded = closed(first);
    const { key: renewed } = await api<{ key: string }>(program.base, 'POST', '/api/loggers/loft/key');
    await firstEnded;
    await expect(connect('loft', key)).rejects.toThrow();

    const second = await connect('loft', renewed);
    const secondEnded = closed(second);
    await api(program.base, 'DELETE', '/api/loggers/loft');
    await secondEnded;
    await expect(connect('loft', renewed)).rejects.toThrow();
  });

  it('is asked of everyone', async () => {
    await expect(connectAsync(`mqtt://127.0.0.1:${program.mqttPort}`, { reconnectPeriod: 0 })).rejects.toThrow();
    await expect(connect('front-hall', 'guess')).rejects.toThrow();
  });
});
