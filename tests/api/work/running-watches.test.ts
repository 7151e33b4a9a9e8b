import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { analyse, watchOf } from '../../../api/analysis/analyse.ts';
import { findingsAsOfNow, stepAnalysis } from '../../../api/analysis/analysis-watch.ts';
import type { AnalysisSite, FindingsDocument } from '../../../api/analysis/findings.ts';
import { createFindingsService, type FindingsService } from '../../../api/work/findings-service.ts';
import type { Job } from '../../../api/work/jobs.ts';
import { createKeptWatches } from '../../../api/work/kept-watches.ts';
import { createWorkerPool, type WorkerPool } from '../../../api/work/worker-pool.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { STREET_MONDAY_MS, streetDays } from '../../support/street-days.ts';
import { temporaryFolder } from '../http/running-server.ts';

const LOG = { info() {}, warn() {}, error() {} };
const SITE: AnalysisSite = {
  timeZone: 'UTC',
  sensor: { position: 'incoming', rangeBar: [0, 10], heightAboveSupplyPointM: 0 },
  hasFlowMeter: false,
  thresholds: DEFAULT_THRESHOLDS,
};

function columns(fromDay: number, toDay: number) {
  const rows = streetDays(fromDay, toDay);
  return {
    timeMs: Float64Array.from(rows, ([time]) => time),
    pressureBar: Float64Array.from(rows, ([, bar]) => bar),
  };
}

describe('watches kept beside the main thread', () => {
  it('step on as the analysis’s own watch does', () => {
    const kept = createKeptWatches();
    expect(kept.begin('a', columns(0, 2), SITE)).toEqual(analyse(columns(0, 2), SITE));
    const watch = watchOf(columns(0, 2), SITE);
    stepAnalysis(watch, columns(2, 3));
    expect(kept.step('a', columns(2, 3))).toEqual(findingsAsOfNow(watch));
  });

  it('end, the one longest not asked for first, where all together hold too much', () => {
    const day = columns(0, 1).timeMs.length;
    const kept = createKeptWatches(3.5 * day);
    for (const name of ['a', 'b', 'c']) kept.begin(name, columns(0, 1), SITE);
    expect(kept.step('a', columns(1, 1.1))).toBeDefined();
    kept.begin('d', columns(0, 1), SITE);
    expect(kept.step('b', columns(1, 1.1))).toBeUndefined();
    expect(kept.step('a', columns(1.1, 1.2))).toBeDefined();
  });
});

describe('findings of a log that is asked for again and again', () => {
  const clock = { now: Date.UTC(2026, 0, 20), nowMs: () => clock.now, every: () => () => {} };
  const done: Job['kind'][] = [];
  let store: Store;
  let pool: WorkerPool;
  let findings: FindingsService;

  beforeAll(async () => {
    store = await openSqliteStore({ folder: temporaryFolder(), clock });
    pool = createWorkerPool(LOG);
    const counting: WorkerPool = {
      ...pool,
      run: (make) =>
        pool.run(async () => {
          const job = await make();
          done.push(job.kind);
          return job;
        }),
    };
    findings = createFindingsService({ store, pool: counting, watchPool: counting, clock });
    await store.putSite({ id: 'row', name: '12 Sample Row', timeZone: 'UTC', thresholds: DEFAULT_THRESHOLDS } as never);
    await store.putLogger({ id: 'hall', createdMs: 0, keySha256: '' });
    await store.addPlacement({
      loggerId: 'hall',
      fromMs: 0,
      siteId: 'row',
      position: 'incoming',
      heightAboveSupplyPointM: 0,
    });
  });
  afterAll(async () => {
    await pool.stop();
    await store.close();
  });

  const add = (rows: readonly (readonly [number, number])[]) =>
    store.store([
      {
        loggerId: 'hall',
        channel: 'pressure',
        unit: 'bar',
        arrivedMs: clock.now,
        timeMs: Float64Array.from(rows, ([time]) => time),
        value: Float64Array.from(rows, ([, bar]) => bar),
      },
    ]);
  async function asked(span: { toMs?: number } = {}): Promise<{ jobs: Job['kind'][]; found: FindingsDocument }> {
    done.length = 0;
    const made = await findings.ofLogger('hall', { fromMs: undefined, toMs: span.toMs }, 'newest');
    return { jobs: [...done], found: JSON.parse(new TextDecoder().decode(made.json)) };
  }

  it('is read once, then stepped over what came since, with what the log read at once gives', async () => {
    await add(streetDays(0, 3));
    expect((await asked()).jobs).toEqual(['watch']);
    await add(streetDays(3, 3.5));
    const { jobs, found } = await asked();
    expect(jobs).toEqual(['step']);
    expect(found).toEqual((await asked({ toMs: STREET_MONDAY_MS + 3.5 * 86_400_000 })).found);
    expect((await asked()).jobs).toEqual([]);
  });

  it('begins anew after a late sample', async () => {
    await add([[STREET_MONDAY_MS + 43_200_005, 3.001]]);
    expect((await asked()).jobs).toEqual(['watch']);
  });

  it('begins anew after another setting', async () => {
    await store.addCalibration({
      loggerId: 'hall',
      channel: 'pressure',
      fromMs: 0,
      gain: 1,
      offset: 0.01,
      standardUncertainty: 0.01,
      note: '',
    });
    expect((await asked()).jobs).toEqual(['watch']);
  });

  it('begins anew once a day of samples has come, since noise and tap law may be others by now', async () => {
    await add(streetDays(3.5, 4.6));
    expect((await asked()).jobs).toEqual(['watch']);
  });
});
