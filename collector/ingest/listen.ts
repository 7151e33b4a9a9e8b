import type { AddressInfo, Server } from 'node:net';
import { Problem } from '../model/problem.ts';

/**
 * Starts a server listening and resolves with its port. Rejects with Problem `port_taken` (another program listens
 * there) or `cannot_listen` (no such address here, no permission). `setting` names what the owner would change.
 */
export function listen(server: Server, host: string, port: number, setting: string): Promise<number> {
  return new Promise((resolve, reject) => {
    const failed = (error: NodeJS.ErrnoException): void => reject(listenProblem(error, host, port, setting));
    server.once('error', failed);
    server.listen(port, host, () => {
      server.off('error', failed);
      server.on('error', () => undefined);
      resolve((server.address() as AddressInfo).port);
    });
  });
}

/** Resolves once the server has let go of its port; connections are their owner's to end. */
export function closeServer(server: Server): Promise<void> {
  return new Promise((resolve) => (server.listening ? server.close(() => resolve()) : resolve()));
}

function listenProblem(error: NodeJS.ErrnoException, host: string, port: number, setting: string): Problem {
  if (error.code === 'EADDRINUSE') {
    return new Problem(
      'port_taken',
      `port ${port} of ${host} is taken by another program`,
      `stop that program, or choose another port: --${setting} ${port + 1}`,
      { cause: error, details: { host, port, setting } },
    );
  }
  return new Problem(
    'cannot_listen',
    `cannot listen on ${host}, port ${port}: ${error.code ?? error.message}`,
    `use an address of this machine (127.0.0.1 for itself only) and a port from 1024 up`,
    { cause: error, details: { host, port, setting } },
  );
}
