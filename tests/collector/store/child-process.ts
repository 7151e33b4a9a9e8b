import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';

const HOOKS = new URL('./typescript-hooks.mjs', import.meta.url).href;

/** A TypeScript file beside this one as a process of its own, with the lines it prints. */
export function startChild(file: string, parameters: readonly string[]): ChildUnderTest {
  const path = fileURLToPath(new URL(file, import.meta.url));
  const child = spawn(process.execPath, ['--import', HOOKS, path, ...parameters], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const lines: string[] = [];
  const waiters = new Set<() => void>();
  const gone = once(child, 'exit').then(() => undefined);
  createInterface({ input: child.stdout! }).on('line', (line) => {
    lines.push(line);
    for (const wake of waiters) wake();
  });
  return {
    process: child,
    lines,
    async linesAtLeast(count) {
      const dead = gone.then(() => {
        if (lines.length < count) throw new Error(`the child ended after ${lines.length} lines`);
      });
      while (lines.length < count) {
        const next = new Promise<void>((resolve) => waiters.add(resolve));
        await Promise.race([next, dead]);
        waiters.clear();
      }
    },
    async kill() {
      child.kill('SIGKILL');
      await gone;
    },
  };
}

export interface ChildUnderTest {
  readonly process: ChildProcess;
  readonly lines: string[];
  /** Resolves once it has printed that many lines; rejects where it ends before. */
  linesAtLeast(count: number): Promise<void>;
  /** Ends it with SIGKILL and waits until it is gone. */
  kill(): Promise<void>;
}
