import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { analyse, watchOf } from '../../../api/analysis/analyse.ts';
import { beginAnalysis, findingsAsOfNow, stepAnalysis } from '../../../api/analysis/analysis-watch.ts';
import type { AnalysisSite, FindingsDocument } from '../../../api/analysis/findings.ts';
import { createFindingsService, type FindingsService } from '../../../api/work/findings-service.ts';
import type { Job } from '../../../api/work/jobs.ts';
import { joinColumns, type RecordedChannels } from '../../../api/work/join-columns.ts';
import { createKeptWatches } from '../../../api/work/kept-watches.ts';
import { createWorkerPool, type WorkerPool } from '../../../api/work/worker-pool.ts';
import { DEFAULT_THRESHOLDS } from '../../../collector/model/site.ts';
import type { Store } from '../../../collector/store/port.ts';
import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { runRig } from '../../labelled/pump/booster-rig.ts';
import { RIG_FAMILIES, rigScenario } from '../../labelled/pump/rig-families.ts';
import { RigRandom } from '../../labelled/pump/rig-random.ts';
import { columnsOf, siteOf } from '../../labelled/pump/rig-ruler.ts';
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

/** The same as what a logger recorded. */
function recorded(fromDay: number, toDay: number): RecordedChannels {
  const { timeMs, pressureBar } = columns(fromDay, toDay);
  return { pressure: { timeMs, value: pressureBar }, flow: undefined, pump: undefined, inlet: undefined };
}
const atDay = (day: number) => STREET_MONDAY_MS + day * 86_400_000;

describe('watches kept beside the main thread', () => {
  it('step on as the analysis’s own watch does', () => {
    const kept = createKeptWatches();
    expect(kept.begin('a', recorded(0, 2), SITE)).toEqual(analyse(columns(0, 2), SITE));
    const watch = watchOf(columns(0, 2), SITE);
    stepAnalysis(watch, columns(2, 3));
    expect(kept.step('a', recorded(2, 3), atDay(2))).toEqual(findingsAsOfNow(watch));
  });

  it('end, the one longest not asked for first, where all together hold too much', () => {
    const day = columns(0, 1).timeMs.length;
    const kept = createKeptWatches(3.5 * day);
    for (const name of ['a', 'b', 'c']) kept.begin(name, recorded(0, 1), SITE);
    expect(kept.step('a', recorded(1, 1.1), atDay(1))).toBeDefined();
    kept.begin('d', recorded(0, 1), SITE);
    expect(kept.step('b', recorded(1, 1.1), atDay(1))).toBeUndefined();
    expect(kept.step('a', recorded(1.1, 1.2), atDay(1.1))).toBeDefined();
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

describe('findings of a pump’s log whose other channels lag behind', () => {
  const clock = { now: Date.UTC(2026, 0, 20), nowMs: () => clock.now, every: () => () => {} };
  const scenario = rigScenario(
    { ...RIG_FAMILIES.find(({ name }) => name === 'leak, 10 s, flow and pump')!, days: 2 },
    3,
  );
  const log = columnsOf(scenario, runRig(scenario.house, new RigRandom(3)));
  const rows = log.timeMs.length;
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
    for (const id of ['cellar', 'meter']) {
      await store.putLogger({ id, createdMs: 0, keySha256: '' });
      await store.addPlacement({
        loggerId: id,
        fromMs: 0,
        siteId: 'row',
        position: 'pump_outlet',
        heightAboveSupplyPointM: 0,
      });
    }
  });
  afterAll(async () => {
    await pool.stop();
    await store.close();
  });

  const UNITS = { pressure: 'bar', flow: 'l/min', pump: 'on/off' } as const;
  async function add(channel: keyof typeof UNITS, values: Float64Array | undefined, from: number, to: number) {
    await store.store([
      {
        loggerId: channel === 'flow' ? 'meter' : 'cellar',
        channel,
        unit: UNITS[channel],
        arrivedMs: clock.now,
        timeMs: log.timeMs.slice(from, to),
        value: values!.slice(from, to),
      } as never,
    ]);
  }
  async function asked(): Promise<{ jobs: Job['kind'][]; found: FindingsDocument }> {
    done.length = 0;
    const made = await findings.ofLogger('cellar', { fromMs: undefined, toMs: undefined }, 'newest');
    return { jobs: [...done], found: JSON.parse(new TextDecoder().decode(made.json)) };
  }
  /** What a watch over the first so many rows tells of all up to a row, joined at once. */
  function atOnce(begun: readonly number[], to: readonly number[]): FindingsDocument {
    const channels = ([pressure, flow, pump]: readonly number[]): RecordedChannels => {
      const part = (values: Float64Array, end: number) => ({
        timeMs: log.timeMs.slice(0, end),
        value: values.slice(0, end),
      });
      return {
        pressure: part(log.pressureBar, pressure!),
        flow: part(log.flowLpm!, flow!),
        pump: part(log.pumpOn!, pump!),
        inlet: undefined,
      };
    };
    const site = { ...siteOf(scenario), intervalS: undefined };
    const { parameters } = watchOf(joinColumns(channels(begun)), site);
    const watch = beginAnalysis(site, parameters);
    stepAnalysis(watch, joinColumns(channels(to)));
    return findingsAsOfNow(watch);
  }

  const day = rows / 2;
  const begun = [day, day - 12, day - 30];
  it('is stepped on, and gives once they have caught up what the joined log does', async () => {
    await add('pressure', log.pressureBar, 0, day);
    await add('flow', log.flowLpm, 0, day - 12);
    await add('pump', log.pumpOn, 0, day - 30);
    expect((await asked()).jobs).toEqual(['watch']);
    let [flowTo, pumpTo] = [day - 12, day - 30];
    for (let from = day; from < day + 700; from += 100) {
      await add('pressure', log.pressureBar, from, from + 100);
      await add('flow', log.flowLpm, flowTo, from + 75);
      await add('pump', log.pumpOn, pumpTo, from + 40);
      [flowTo, pumpTo] = [from + 75, from + 40];
      const { jobs, found } = await asked();
      expect(jobs).toEqual(['step']);
      expect(found.pumpStarts).toEqual(atOnce(begun, [from + 100, flowTo, pumpTo]).pumpStarts);
    }
    await add('flow', log.flowLpm, flowTo, day + 700);
    await add('pump', log.pumpOn, pumpTo, day + 700);
    const { jobs, found } = await asked();
    expect(jobs).toEqual(['step']);
    const whole = atOnce(begun, [day + 700, day + 700, day + 700]);
    expect(found.pumpStarts.length).toBeGreaterThan(100);
    expect({ starts: found.pumpStarts, cycling: found.cycling, evidence: found.evidence.statements }).toEqual({
      starts: whole.pumpStarts,
      cycling: whole.cycling,
      evidence: whole.evidence.statements,
    });
  });

  it('begins anew where a channel tells otherwise of a time that all had told of', async () => {
    await store.store([
      {
        loggerId: 'cellar',
        channel: 'pump',
        unit: 'on/off',
        arrivedMs: clock.now,
        timeMs: Float64Array.of(log.timeMs[day]! + 1),
        value: Float64Array.of(1),
      } as never,
    ]);
    expect((await asked()).jobs).toEqual(['watch']);
  });
});
