import { createServer, type Socket, connect as tcpConnect } from 'node:net';
import fc from 'fast-check';
import mqtt, { type IClientOptions } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createCollector } from '../../../collector/collector.ts';
import { startEmbeddedBroker } from '../../../collector/ingest/embedded-broker.ts';
import { Problem } from '../../../collector/model/problem.ts';
import { testClock, testLog, until, wallClock } from './collector-under-test.ts';
import { type Intake, keyOf, selfSigned, startIntake } from './intake-under-test.ts';

const TOPIC = 'mainsdiary/front-hall/pressure';

/** MQTT strings and packets by hand (MQTT 3.1.1 sections 1.5.3, 3.1, 3.3), to send what no client library would. */
const text = (s: string) => Buffer.concat([Buffer.from([s.length >> 8, s.length & 0xff]), Buffer.from(s)]);
function packet(type: number, ...parts: Buffer[]): Buffer {
  const body = Buffer.concat(parts);
  const length: number[] = [];
  let left = body.length;
  do {
    length.push((left % 128) | (left >= 128 ? 0x80 : 0));
    left = Math.floor(left / 128);
  } while (left > 0);
  return Buffer.concat([Buffer.from([type, ...length]), body]);
}
const connectPacket = (id: string, user: string, key: string, level = 4) =>
  packet(
    0x10,
    text('MQTT'),
    Buffer.from([level, 0xc2, 0, 60]),
    level === 5 ? Buffer.from([0]) : Buffer.alloc(0),
    text(id),
    text(user),
    text(key),
  );
const publishPacket = (topic: string, id: number, payload: string) =>
  packet(0x32, text(topic), Buffer.from([id >> 8, id & 0xff]), Buffer.from(payload));

/** A bare socket: what it got, and whether it was closed. */
async function bare(port: number): Promise<{ socket: Socket; got(): Buffer; closed(): boolean }> {
  const socket = tcpConnect(port, '127.0.0.1');
  let got = Buffer.alloc(0);
  let closed = false;
  socket.on('data', (chunk) => {
    got = Buffer.concat([got, chunk]);
  });
  socket.on('error', () => undefined);
  socket.on('close', () => {
    closed = true;
  });
  await new Promise((resolve) => socket.once('connect', resolve));
  return { socket, got: () => got, closed: () => closed };
}

/** Waits until a count no longer grows: as much has been read as will be. */
async function standsStill(count: () => number): Promise<void> {
  let before = -1;
  await until(() => {
    const still = before === count();
    before = count();
    return still;
  }, 'no more is read');
}

describe('the embedded broker', () => {
  let intake: Intake;
  const refusals = () => intake.held.all.refusals('front-hall');

  beforeEach(async () => {
    intake = await startIntake('embedded', { limits: { connectionsAnAddress: 20, waitingMessages: 50 } });
  });
  afterEach(() => intake.stop());

  test('holds the acknowledgement back until the commit', async () => {
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, '{"value":1}', { qos: 1 });
    intake.held.hold();
    let acknowledged = false;
    const publishing = client.publishAsync(TOPIC, '{"value":2}', { qos: 1 }).then(() => {
      acknowledged = true;
    });
    await until(() => intake.collector.counters().total.waiting === 1, 'the message is there');
    // A ping that is answered shows that the connection lives and would have brought an acknowledgement.
    await new Promise<void>((resolve) => {
      client.once('packetreceive', ({ cmd }) => cmd === 'pingresp' && resolve());
      client.sendPing();
    });
    expect(acknowledged).toBe(false);
    intake.held.release();
    await publishing;
    expect(await intake.held.count()).toBe(2);
  });

  test('stops reading from a sender whose messages wait for their commit', async () => {
    const sender = await bare(intake.port);
    sender.socket.write(connectPacket('flood', 'front-hall', keyOf('front-hall')));
    await until(() => sender.got().length === 4, 'CONNACK');
    intake.held.hold();
    const padding = ' '.repeat(100);
    for (let i = 1; i <= 20_000; i++) sender.socket.write(publishPacket(TOPIC, i, `${i}${padding}`));
    const messages = () => intake.collector.counters().total.messages;
    await until(() => messages() >= 50, 'the window is full');
    await standsStill(messages);
    expect(messages()).toBeLessThan(3000);
    intake.held.release();
    await until(() => sender.got().length === 4 + 20_000 * 4, 'all acknowledged');
    expect(await intake.held.count()).toBe(20_000);
  });

  test('stops reading from all senders where too much waits in all, and goes on with every one', async () => {
    const few = await startIntake('embedded', { limits: { waitingMessages: 50, waitingMessagesInAll: 60 } });
    const senders = await Promise.all(Array.from({ length: 12 }, () => bare(few.port)));
    for (const [i, sender] of senders.entries()) {
      sender.socket.write(connectPacket(`flood-${i}`, 'front-hall', keyOf('front-hall')));
      await until(() => sender.got().length === 4, 'CONNACK');
    }
    few.held.hold();
    // A chunk of the socket is read whole, so each sender gets in what one holds at most.
    const padding = ' '.repeat(5000);
    for (const [i, sender] of senders.entries())
      for (let n = 0; n < 200; n++) {
        const time = 1_777_800_000 + i * 200 + n;
        sender.socket.write(publishPacket(TOPIC, n + 1, `{"time":${time},"value":1}${padding}`));
      }
    const messages = () => few.collector.counters().total.messages;
    await until(() => messages() >= 60, 'the window is full');
    await standsStill(messages);
    expect(messages()).toBeLessThan(600);
    few.held.release();
    await until(() => senders.every((sender) => sender.got().length === 4 + 200 * 4), 'all acknowledged');
    expect(await few.held.count()).toBe(12 * 200);
    for (const { socket } of senders) socket.destroy();
    await few.stop();
  });

  test("closes on another logger's topic, says so, and lets the offender in later", async () => {
    const client = await intake.publisher('front-hall', { reconnectPeriod: 20 });
    const startedMs = performance.now();
    client.publish('mainsdiary/cellar/pressure', '1.5', { qos: 0 });
    await new Promise<void>((resolve) => client.once('close', () => resolve()));
    await until(async () => (await refusals()).length === 1, 'recorded');
    const [refusal] = await refusals();
    expect(refusal).toMatchObject({ topic: 'mainsdiary/cellar/pressure', excerpt: '1.5' });
    expect(refusal!.reason).toContain('mainsdiary/front-hall/{pressure|');
    expect(await intake.held.count('cellar')).toBe(0);
    expect(intake.log.lines.filter(({ level }) => level === 'warn')).toMatchObject([
      { fields: { loggerId: 'front-hall' } },
    ]);
    await until(() => client.connected, 'in again');
    expect(performance.now() - startedMs).toBeGreaterThan(1000);
  });

  test('gives a logger nothing but its own', async () => {
    const cellar = await intake.publisher('cellar');
    const got: string[] = [];
    cellar.on('message', (topic) => got.push(topic));
    const granted = await cellar
      .subscribeAsync(['#', 'mainsdiary/+/pressure', '$SYS/#', 'mainsdiary/cellar/#'], { qos: 1 })
      .catch((error: Error) => error);
    if (Array.isArray(granted)) expect(granted.map(({ qos }) => qos)).toEqual([128, 128, 128, 1]);
    const other = await intake.publisher('front-hall');
    await other.publishAsync(TOPIC, '1.5', { qos: 1, retain: true });
    await cellar.publishAsync('mainsdiary/cellar/pressure', '1.5', { qos: 1 });
    await until(() => got.length > 0, 'its own message comes back');
    expect(got).toEqual(['mainsdiary/cellar/pressure']);
  });

  test('keeps no retained message, and clears the mark', async () => {
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, '1.5', { qos: 1, retain: true });
    const got: boolean[] = [];
    client.on('message', (_topic, _payload, { retain }) => got.push(retain));
    await client.subscribeAsync('mainsdiary/front-hall/#', { qos: 1 });
    await client.publishAsync(TOPIC, '1.6', { qos: 1, retain: true });
    await until(() => got.length > 0, 'the fresh one');
    expect(got).toEqual([false]);
  });

  test('tells a client of MQTT 5 in its own words that 3.1.1 is spoken', async () => {
    // MQTT 5 section 3.2.2.2: reason code 0x84, unsupported protocol version.
    const five = await bare(intake.port);
    five.socket.write(connectPacket('five', 'front-hall', keyOf('front-hall'), 5));
    await until(() => five.closed(), 'closed');
    expect(five.got().toString('hex')).toBe('2003008400');
  });

  test('ends an oversized packet at its header, before the body is taken in', async () => {
    const stranger = await bare(intake.port);
    stranger.socket.write(Buffer.from('10ffffff7f', 'hex'));
    await until(() => stranger.closed(), 'closed without a body');
    const known = await bare(intake.port);
    known.socket.write(connectPacket('big', 'front-hall', keyOf('front-hall')));
    await until(() => known.got().length === 4, 'CONNACK');
    known.socket.write(Buffer.from('32ffffff7f', 'hex'));
    await until(() => known.closed(), 'closed without a body');
    await until(async () => (await refusals()).length === 1, 'recorded once');
  });

  test('ends a connection that subscribes and does not read, says so, and holds nobody else up', async () => {
    const deaf = await bare(intake.port);
    deaf.socket.write(connectPacket('deaf', 'front-hall', keyOf('front-hall')));
    await until(() => deaf.got().length === 4, 'CONNACK');
    deaf.socket.write(packet(0x82, Buffer.from([0, 1]), text('mainsdiary/front-hall/#'), Buffer.from([0])));
    await until(() => deaf.got().length === 9, 'SUBACK');
    deaf.socket.pause();
    const told = async () => (await refusals()).find(({ reason }) => reason.includes("doesn't read"))?.reason;
    const speaker = await intake.publisher('front-hall');
    const other = await intake.publisher('cellar');
    const large = Buffer.alloc(100_000, 0x20).fill('1.5', 0, 3);
    // More than the two ends of the connection keep in the system, and then more than may wait.
    for (let n = 0; n < 300 && (await told()) === undefined; n++) await speaker.publishAsync(TOPIC, large, { qos: 1 });
    expect(await told()).toMatch(/doesn't read: 1\d{6} bytes waited for it, at most 1048576 are kept; .* closed$/);
    for (let n = 0; n < 300; n++) await other.publishAsync('mainsdiary/cellar/pressure', String(n), { qos: 1 });
    expect(await intake.held.count('cellar')).toBe(300);
  });

  test('a client id is only a name within its logger: nobody is put out by a stranger using it', async () => {
    const client = await intake.publisher('front-hall', { clientId: 'same', reconnectPeriod: 0 });
    await intake.publisher('cellar', { clientId: 'same', reconnectPeriod: 0 });
    await client.publishAsync(TOPIC, '{"value":1}', { qos: 1 });
    expect(client.connected).toBe(true);
    await intake.publisher('front-hall', { clientId: 'same', reconnectPeriod: 0 });
    await until(() => !client.connected, 'its own second connection takes over');
    expect(intake.collector.presence('front-hall').state).toBe('online');
  });

  test('takes only so many connections from one address', async () => {
    const open = await Promise.all(Array.from({ length: 25 }, () => bare(intake.port)));
    await until(() => open.filter(({ closed }) => closed()).length >= 5, 'the surplus is closed');
    expect(open.filter(({ closed }) => !closed())).toHaveLength(20);
    for (const { socket } of open) socket.destroy();
    await intake.publisher('front-hall');
  });

  test('lets wrong keys wait, not the right one of another logger', async () => {
    const log = testLog();
    // A clock that stands: however slow the machine, the wait isn't over.
    const collector = createCollector({ store: intake.held.store, clock: testClock(), log });
    const authenticate = async (loggerId: string, key: string): Promise<boolean> => key === keyOf(loggerId);
    const broker = await startEmbeddedBroker({ host: '127.0.0.1', port: 0, collector, authenticate, log });
    const attempt = async (user: string, key: string): Promise<string> => {
      const client = await bare(broker.port);
      client.socket.write(connectPacket('x', user, key));
      await until(() => client.got().length >= 4, 'CONNACK');
      client.socket.destroy();
      return client.got().toString('hex');
    };
    for (let i = 0; i < 6; i++) expect(await attempt('front-hall', 'wrong')).toBe('20020004');
    expect(await attempt('front-hall', keyOf('front-hall')), 'the right key during the wait').toBe('20020004');
    expect(await attempt('cellar', keyOf('cellar'))).toBe('20020000');
    expect(log.lines.filter(({ message }) => message.includes('wrong or missing key'))).toHaveLength(1);
    await broker.stop();
  });

  test('bytes that are no MQTT end the connection and nothing else', async () => {
    for (const hex of [
      '474554202f20485454502f312e310d0a0d0a',
      '00',
      'ff',
      '32050003612f62',
      '1000',
      'e000',
      '82020001',
    ]) {
      const stranger = await bare(intake.port);
      stranger.socket.end(Buffer.from(hex, 'hex'));
      await until(() => stranger.closed(), `closed after ${hex}`);
    }
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, '{"value":1}', { qos: 1 });
    expect(await intake.held.count()).toBe(1);
  });

  test('ends the connections of a logger whose key was renewed, and no other', async () => {
    const renewed = await intake.publisher('front-hall', { reconnectPeriod: 0 });
    const other = await intake.publisher('cellar', { reconnectPeriod: 0 });
    intake.embedded!.disconnect('front-hall');
    await until(() => !renewed.connected, 'ended');
    await other.publishAsync('mainsdiary/cellar/pressure', '{"value":1}', { qos: 1 });
    expect(other.connected).toBe(true);
  });

  test('packets of every type with any body, known sender or not, leave it working', async () => {
    const anyPacket = fc
      .tuple(fc.integer({ min: 0x10, max: 0xff }), fc.uint8Array({ maxLength: 40 }))
      .map(([type, body]) => packet(type, Buffer.from(body)));
    const likely = fc
      .tuple(
        fc.constantFrom(0x30, 0x32, 0x34, 0x3c, 0x40, 0x50, 0x62, 0x70, 0x82, 0xa2, 0xc0),
        fc.constantFrom(TOPIC, 'mainsdiary/front-hall/#', '+/+', '', '$SYS/x', 'mainsdiary/front-hall/flow'),
        fc.uint8Array({ maxLength: 20 }),
      )
      .map(([type, topic, rest]) =>
        type === 0x82 || type === 0xa2
          ? packet(type, Buffer.from([0, 1]), text(topic), Buffer.from(rest))
          : packet(type, text(topic), Buffer.from(rest)),
      );
    const visits = fc.sample(
      fc.tuple(fc.boolean(), fc.array(fc.oneof(anyPacket, likely), { minLength: 1, maxLength: 6 })),
      {
        numRuns: 300,
        seed: 5,
      },
    );
    for (const [i, [known, packets]] of visits.entries()) {
      const visitor = await bare(intake.port);
      const hello = known ? [connectPacket(`visitor-${i}`, 'cellar', keyOf('cellar'))] : [];
      visitor.socket.end(Buffer.concat([...hello, ...packets]));
      await until(() => visitor.closed(), `visit ${i} ends`);
    }
    const client = await intake.publisher('front-hall');
    await client.publishAsync(TOPIC, '{"value":1}', { qos: 1 });
    expect(await intake.held.count()).toBe(1);
  });

  test('follows who is connected', async () => {
    const states: string[] = [];
    intake.collector.onPresence(({ state }) => states.push(state));
    const client = await intake.publisher('front-hall', { reconnectPeriod: 0 });
    await client.endAsync();
    await until(() => states.length === 2, 'both changes');
    expect(states).toEqual(['online', 'offline']);
  });
});

test('a taken port is a Problem that names it and the setting', async () => {
  const other = createServer();
  const port = await new Promise<number>((resolve) =>
    other.listen(0, '127.0.0.1', () => resolve((other.address() as { port: number }).port)),
  );
  const intake = await startIntake('embedded');
  const { collector, log } = intake;
  const authenticate = async () => true;
  const starting = startEmbeddedBroker({ host: '127.0.0.1', port, collector, authenticate, log });
  await expect(starting).rejects.toMatchObject({ code: 'port_taken', details: { port, setting: 'mqtt-port' } });
  await expect(starting).rejects.toBeInstanceOf(Problem);
  const elsewhere = startEmbeddedBroker({ host: '192.0.2.1', port: 0, collector, authenticate, log });
  await expect(elsewhere).rejects.toMatchObject({ code: 'cannot_listen' });
  other.close();
  await intake.stop();
});

test('with a certificate it listens for TLS beside, and the same rules hold', async () => {
  const certificate = selfSigned();
  const intake = await startIntake('embedded', { tls: { port: 0, cert: certificate.cert, key: certificate.key } });
  const over = (options: IClientOptions) =>
    mqtt.connect({
      protocol: 'mqtts',
      host: 'localhost',
      port: intake.embedded!.tlsPort!,
      reconnectPeriod: 0,
      ...options,
    });
  const client = over({ ca: certificate.cert, username: 'front-hall', password: keyOf('front-hall') });
  await until(() => client.connected, 'connected over TLS');
  await client.publishAsync(TOPIC, '{"value":1.5}', { qos: 1 });
  expect(await intake.held.count()).toBe(1);
  const anonymous = over({ ca: certificate.cert });
  const refused = await new Promise<Error>((resolve) => anonymous.once('error', resolve));
  expect(refused.message).toContain('refused');
  const plain = await bare(intake.embedded!.tlsPort!);
  plain.socket.write(connectPacket('x', 'front-hall', keyOf('front-hall')));
  await until(() => plain.closed(), 'plain text at the TLS port is ended');
  await Promise.all([client.endAsync(true), anonymous.endAsync(true)]);
  await intake.stop();
  certificate.remove();
});

test('a store of settings that does not answer is "server unavailable", not a wrong key', async () => {
  const intake = await startIntake('embedded');
  const collector = createCollector({ store: intake.held.store, clock: wallClock, log: testLog() });
  const authenticate = async (): Promise<boolean> => {
    throw new Error('the store is away');
  };
  const broker = await startEmbeddedBroker({ host: '127.0.0.1', port: 0, collector, authenticate, log: testLog() });
  const client = await bare(broker.port);
  client.socket.write(connectPacket('x', 'front-hall', 'key'));
  await until(() => client.got().length >= 4, 'CONNACK');
  expect(client.got().toString('hex')).toBe('20020003');
  client.socket.destroy();
  await broker.stop();
  expect(broker.health().state).toBe('stopped');
  await intake.stop();
});
