import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Job } from '../../../api/work/jobs.ts';
import { createJobRunner } from '../../../api/work/jobs.ts';
import { unpackFindings } from '../../../api/work/packed-findings.ts';
import type { createWorkerPool as create, WorkerPool } from '../../../api/work/worker-pool.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';

/** Threads run compiled code only; npm test builds it first. */
const COMPILED = fileURLToPath(new URL('../../../dist/api/work/worker-pool.js', import.meta.url));
const built = existsSync(COMPILED);
if (!built) process.stdout.write('skipped: worker threads run compiled code; npm run build makes it\n');

const faults: string[] = [];
const LOG = { info() {}, warn() {}, error: (_fields: object, message: string) => void faults.push(message) };

/** An hour at one sample a second that falls slowly. */
function hourJob(): Job & { kind: 'findings' } {
  const rows = Array.from({ length: 3600 }, (_, second) => second);
  return {
    kind: 'findings',
    recorded: {
      pressure: {
        timeMs: Float64Array.from(rows, (second) => Date.UTC(2026, 4, 4, 6) + second * 1000),
        value: Float64Array.from(rows, (second) => 3 - second / 3600 + (0.003 * ((second * 7919) % 11)) / 11),
      },
      flow: undefined,
      pump: undefined,
      inlet: undefined,
    },
    site: {
      timeZone: 'Europe/London',
      sensor: { position: 'incoming', rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
      hasFlowMeter: false,
      thresholds: DEFAULT_THRESHOLDS,
    },
  };
}

describe.skipIf(!built)('jobs beside the main thread', () => {
  let pool: WorkerPool;
  beforeAll(async () => {
    const { createWorkerPool } = (await import(COMPILED)) as { createWorkerPool: typeof create };
    pool = createWorkerPool(LOG);
  });
  afterAll(() => pool.stop());

  it('give what they give in place', async () => {
    const documentOf = (packed: Uint8Array) => JSON.parse(new TextDecoder().decode(unpackFindings(packed).json));
    const inPlace = documentOf(await createJobRunner()(hourJob()));
    const beside = await Promise.all([1, 2, 3].map(() => pool.run(async () => hourJob())));
    for (const bytes of beside) expect(documentOf(bytes)).toEqual(inPlace);
  });
  it('hand their columns over instead of copying them', async () => {
    const job = hourJob();
    await pool.run(async () => job);
    expect(job.recorded.pressure.timeMs.length).toBe(0);
  });
  it('that cannot be made or end in a fault reject, and the next one runs', async () => {
    await expect(pool.run(() => Promise.reject(new Error('no such columns')))).rejects.toThrow('no such columns');
    const broken = { ...hourJob(), site: undefined } as unknown as Job;
    await expect(pool.run(async () => broken)).rejects.toMatchObject({ code: 'computation_failed' });
    expect(faults).toContain('a computation ended in a fault');
    expect((await pool.run(async () => hourJob())).byteLength).toBeGreaterThan(100);
  });
  it('beyond what may wait are refused, and those that wait are told when it stops', async () => {
    const all = Array.from({ length: 100 }, () =>
      pool
        .run(async () => hourJob())
        .then(
          () => 'done',
          (error) => error.code,
        ),
    );
    expect(pool.waiting()).toBeLessThanOrEqual(64);
    await pool.stop();
    const ends = await Promise.all(all);
    expect(ends.filter((end) => end === 'busy').length).toBeGreaterThanOrEqual(30);
    expect(new Set(ends)).not.toContain(undefined);
  });
});
