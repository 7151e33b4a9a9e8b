import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { type RunningServer, startServer } from './running-server.ts';

let server: RunningServer;
beforeAll(async () => {
  server = await startServer();
});
afterAll(() => server.stop());

describe('a refusal while the file is still being sent', () => {
  // A close on unread bytes resets the connection, and the sender then saw a broken pipe instead of the reason.
  it('reaches a sender who reads only after having sent everything', async () => {
    const body = Buffer.alloc(4_000_000, '2026-01-05T00:00:00Z,1.5\n');
    const answer = await new Promise<string>((resolve, reject) => {
      const socket = connect(server.httpPort, '127.0.0.1');
      let text = '';
      socket.pause();
      socket.on('error', reject);
      socket.write(
        `POST /api/loggers/attic/import HTTP/1.1\r\nHost: 127.0.0.1:${server.httpPort}\r\nContent-Type: text/csv\r\nContent-Length: ${body.length}\r\n\r\n`,
      );
      socket.write(body, () => {
        socket.on('data', (chunk: Buffer) => {
          text += chunk.toString();
        });
        socket.on('end', () => resolve(text));
        socket.resume();
      });
    });
    expect(answer).toMatch(/^HTTP\/1\.1 404 /);
    expect(answer).toContain('"code":"unknown_logger"');
  });
});
