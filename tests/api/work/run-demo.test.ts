import { describe, expect, it } from 'vitest';
import { hashLoggerKey } from '../../../api/access/logger-key.ts';
import { createEndings } from '../../../api/work/endings.ts';
import { type DemoParts, runDemo } from '../../../api/work/run-demo.ts';
import type { Logger } from '../../../collector/model/logger.ts';
import type { Store } from '../../../collector/store/port.ts';

const clock = { nowMs: () => 5000, every: () => () => {} };

function demoWith(loggers: Logger[], parts: Partial<DemoParts> = {}) {
  const kept = new Map(loggers.map((logger) => [logger.id, logger]));
  const store = {
    logger: async (id: string) => kept.get(id),
    putLogger: async (logger: Logger) => void kept.set(logger.id, logger),
  } as unknown as Store;
  const shares: number[] = [];
  const forgotten: string[] = [];
  const published: { id: string; key: string }[] = [];
  let stopped = false;
  const all: DemoParts = {
    demoProperties: () => [{ loggers: [{ id: 'a' }, { id: 'b' }] }, { loggers: [{ id: 'c' }] }],
    async writeDemoHistory(_store, nowMs, onProgress) {
      onProgress(0.5);
      onProgress(1);
      return { plannedAtMs: nowMs, endMs: nowMs, written: true };
    },
    async startDemoLoggers(options) {
      published.push(...options.loggers);
      return {
        async stop() {
          stopped = true;
        },
      };
    },
    ...parts,
  };
  const running = runDemo({
    parts: async () => all,
    store,
    collector: { forget: (id) => forgotten.push(id) },
    clock,
    brokerUrl: 'mqtt://127.0.0.1:1',
    onProgress: (share) => shares.push(share),
  });
  return { running, shares, forgotten, published, kept, isStopped: () => stopped };
}

describe('the demo', () => {
  it('is complete only once its loggers publish, each with a key of its own', async () => {
    const demo = demoWith(['a', 'b'].map((id) => ({ id, createdMs: 0, keySha256: '' })));
    await demo.running.done;
    expect(demo.shares).toEqual([0.5, 0.999, 1]);
    expect(demo.published.map(({ id }) => id)).toEqual(['a', 'b']);
    for (const { id, key } of demo.published) expect(demo.kept.get(id)?.keySha256).toBe(hashLoggerKey(key));
    expect(demo.forgotten).toEqual(['a', 'b']);
    await demo.running.stop();
    expect(demo.isStopped()).toBe(true);
  });
  it('does not bring back what was deleted', async () => {
    const demo = demoWith([{ id: 'a', createdMs: 0, keySha256: '', hiddenMs: 1 }]);
    await demo.running.done;
    expect(demo.published).toEqual([]);
  });
  it('is stopped in the middle of its history', async () => {
    let begun = () => {};
    const writing = new Promise<void>((resolve) => {
      begun = resolve;
    });
    const demo = demoWith([], {
      writeDemoHistory: (_store, _nowMs, _onProgress, signal) =>
        new Promise((_resolve, reject) => {
          signal.addEventListener('abort', () => reject(new Error('interrupted')));
          begun();
        }),
    });
    await writing;
    await Promise.all([demo.running.stop(), expect(demo.running.done).rejects.toThrow('interrupted')]);
    expect(demo.running.isStopped()).toBe(true);
  });
});

describe('endings', () => {
  it('come in reverse order, each although another fails, and once', async () => {
    const faults: string[] = [];
    const log = { info() {}, warn() {}, error: (_fields: object, message: string) => void faults.push(message) };
    const ended: string[] = [];
    const endings = createEndings(log);
    endings.add('first', () => void ended.push('first'));
    endings.add('broken', () => Promise.reject(new Error('no')));
    endings.add('last', () => void ended.push('last'));
    await Promise.all([endings.stop(), endings.stop()]);
    expect(ended).toEqual(['last', 'first']);
    expect(faults).toHaveLength(1);
    expect(() => endings.add('late', () => void ended.push('late'))).toThrow('stopped while it started');
    expect(ended).toContain('late');
  });
});
