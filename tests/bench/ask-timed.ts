import { Agent, get } from 'node:http';

export interface TimedAnswer {
  readonly ms: number;
  readonly bytes: number;
}

/** One connection that is kept, as a page keeps its own. */
export function createTimedClient(): { ask(address: string, accept?: string): Promise<TimedAnswer>; end(): void } {
  const agent = new Agent({ keepAlive: true, maxSockets: 1 });
  return {
    ask: (address, accept = 'application/json') =>
      new Promise((resolve, reject) => {
        const started = performance.now();
        get(address, { agent, headers: { accept } }, (answer) => {
          let bytes = 0;
          answer.on('data', (chunk: Buffer) => {
            bytes += chunk.length;
          });
          answer.on('error', reject);
          answer.on('end', () => {
            if (answer.statusCode === 200) resolve({ ms: performance.now() - started, bytes });
            else reject(new Error(`${address} answered ${answer.statusCode}`));
          });
        }).on('error', reject);
      }),
    end: () => agent.destroy(),
  };
}
