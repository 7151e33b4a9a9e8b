import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Socket } from 'node:net';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createAttemptLimits } from '../../../collector/ingest/attempt-limits.ts';
import {
  createHeaderScan,
  MAX_CONNECT_BYTES,
  MAX_UNREAD_BYTES,
  PacketGate,
} from '../../../collector/ingest/packet-gate.ts';

/** A packet with a body of so many bytes; the length by MQTT 3.1.1 section 2.2.3. */
function packet(bodyBytes: number): Buffer {
  const length: number[] = [];
  let left = bodyBytes;
  do {
    const digit = left % 128;
    left = Math.floor(left / 128);
    length.push(left > 0 ? digit | 0x80 : digit);
  } while (left > 0);
  return Buffer.concat([Buffer.from([0x30, ...length]), Buffer.alloc(bodyBytes, 0xff)]);
}

describe('the fixed header', () => {
  // MQTT 3.1.1 table 2.4: the borders between one, two, three and four length bytes.
  test.each([
    ['00', 0],
    ['7f', 127],
    ['8001', 128],
    ['ff7f', 16_383],
    ['808001', 16_384],
    ['ffff7f', 2_097_151],
    ['80808001', 2_097_152],
    ['ffffff7f', 268_435_455],
  ])('length %s means %d bytes', (hex, bytes) => {
    const scan = createHeaderScan(() => -1);
    expect(scan.scan(Buffer.from(`30${hex}`, 'hex'))).toEqual({ kind: 'oversized', bytes });
  });

  test('five length bytes are no MQTT', () => {
    expect(createHeaderScan(() => 1e9).scan(Buffer.from('30ffffffff', 'hex'))).toEqual({ kind: 'malformed' });
  });

  test('is found wherever the stream is cut, and an oversized packet before its body', () => {
    const bodies = fc.array(fc.integer({ min: 0, max: 300 }), { maxLength: 20 });
    fc.assert(
      fc.property(bodies, fc.array(fc.integer({ min: 1, max: 50 }), { minLength: 1 }), (sizes, cuts) => {
        const oversized = packet(1001).subarray(0, 3);
        const stream = Buffer.concat([...sizes.map(packet), oversized]);
        const scan = createHeaderScan(() => 1000);
        let at = 0;
        for (let i = 0; at < stream.length; i++) {
          const next = Math.min(stream.length, at + cuts[i % cuts.length]!);
          const fault = scan.scan(stream.subarray(at, next));
          expect(fault).toEqual(next === stream.length ? { kind: 'oversized', bytes: 1001 } : undefined);
          at = next;
        }
      }),
    );
  });

  test('the first packet has its own, smaller bound', () => {
    const scan = createHeaderScan((n) => (n === 0 ? MAX_CONNECT_BYTES : 1e6));
    expect(scan.scan(packet(MAX_CONNECT_BYTES))).toBeUndefined();
    expect(scan.scan(packet(100_000))).toBeUndefined();
    expect(createHeaderScan(() => MAX_CONNECT_BYTES).scan(packet(MAX_CONNECT_BYTES + 1))).toMatchObject({
      kind: 'oversized',
    });
  });
});

describe('failed attempts', () => {
  test('cost nothing at first, then ever more up to a minute, and are forgiven', () => {
    const limits = createAttemptLimits(3);
    const waits: number[] = [];
    for (let i = 0; i < 12; i++) {
      limits.failed('192.0.2.1', 0);
      waits.push(limits.waitMs('192.0.2.1', 0));
    }
    expect(waits).toEqual([0, 0, 1000, 2000, 4000, 8000, 16_000, 32_000, 60_000, 60_000, 60_000, 60_000]);
    expect(limits.waitMs('192.0.2.2', 0)).toBe(0);
    expect(limits.waitMs('192.0.2.1', 59_999)).toBe(1);
    expect(limits.waitMs('192.0.2.1', 601_000)).toBe(0);
  });

  test('from ever new addresses are remembered for the newest only', () => {
    const limits = createAttemptLimits(0);
    for (let i = 0; i <= 10_000; i++) limits.failed(`a${i}`, 0);
    expect(limits.waitMs('a0', 0)).toBe(0);
    expect(limits.waitMs('a10000', 0)).toBeGreaterThan(0);
  });
});

describe('a gate before a client that does not read', () => {
  test('closes all the same when it is ended, with what waits unread', async () => {
    const server = createServer();
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const deaf = connect((server.address() as AddressInfo).port, '127.0.0.1').pause();
    const [socket] = (await once(server, 'connection')) as [Socket];
    const gate = new PacketGate(socket, 1000, () => undefined);
    while (gate.writableLength < MAX_UNREAD_BYTES / 2) {
      gate.write(Buffer.alloc(50_000));
      await new Promise((resolve) => setImmediate(resolve));
    }
    gate.destroy();
    await once(socket, 'close');
    deaf.destroy();
    server.close();
  });
});
