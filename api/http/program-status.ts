import type { BrokerHealth } from '../../collector/ports.ts';
import type { StoreHealth } from '../../collector/store/port.ts';
import type { AboutResponse, HealthResponse } from '../contract/payloads.ts';
import { diskLife } from '../work/disk-life.ts';
import type { ProgramStatus } from './program-handlers.ts';

export interface StatusFacts {
  readonly version: string;
  readonly demo: boolean;
  readonly startedMs: number;
  nowMs(): number;
  storeHealth(): Promise<StoreHealth>;
  /** Why the last commit failed; undefined while commits go through. */
  commitFailure(): string | undefined;
  /** Undefined until it has been started. */
  brokerHealth(): BrokerHealth | undefined;
  broker(): Pick<AboutResponse['broker'], 'kind' | 'host' | 'port' | 'tlsPort'>;
  /** Share of the demo's history that is written; 1 when done, undefined without a demo. */
  demoHistory(): { readonly share: number; readonly failure: string | undefined } | undefined;
  /** What the last full check of the record found wrong, in words; undefined where nothing. */
  recordDamage(): string | undefined;
  isStarted(): boolean;
}

/** An answer of the store is good for this long: health may be asked by anybody, as often as they like. */
const STORE_HEALTH_KEPT_MS = 500;

export function createProgramStatus(facts: StatusFacts): ProgramStatus {
  let kept: { atMs: number; health: Promise<StoreHealth> } | undefined;

  function storeHealth(): Promise<StoreHealth> {
    const now = performance.now();
    if (!kept || now - kept.atMs > STORE_HEALTH_KEPT_MS) kept = { atMs: now, health: facts.storeHealth() };
    return kept.health;
  }

  const storeFault = (store: StoreHealth) =>
    store.state === 'ok' ? facts.commitFailure() : (store.message ?? 'it cannot take samples');

  return {
    async health() {
      const store = await storeHealth();
      const storeWords = storeFault(store);
      const disk = diskLife(store);
      const broker = facts.brokerHealth();
      const demo = facts.demoHistory();
      const mqttWell = broker?.state === 'listening' || broker?.state === 'connected';
      const faults = [
        storeWords === undefined ? undefined : `storing fails: ${storeWords}`,
        demo?.failure === undefined ? undefined : `the demo's history fails: ${demo.failure}`,
        broker === undefined || mqttWell
          ? undefined
          : `mqtt is ${broker.state}${broker.message ? `: ${broker.message}` : ''}`,
      ].filter((fault) => fault !== undefined);
      const starting = !facts.isStarted() || broker === undefined || (demo !== undefined && demo.share < 1);
      const health: HealthResponse = {
        status: faults.length > 0 ? faults.join('; ') : starting ? 'starting' : 'ok',
        sealing: store.sealing,
        http: 'listening',
        mqtt: broker?.state ?? 'starting',
        ...(broker?.note === undefined ? {} : { mqttNote: broker.note }),
        store: storeWords === undefined ? 'ok' : 'failing',
        disk: disk.message ?? 'ok',
        freeBytes: disk.freeBytes,
        daysLeft: disk.daysLeft,
        record: facts.recordDamage() ?? 'ok',
      };
      return demo === undefined ? health : { ...health, demoHistory: demo.share };
    },
    async about() {
      const store = await storeHealth();
      const broker = facts.brokerHealth();
      const storeWords = storeFault(store);
      const { tlsPort, ...brokerRest } = facts.broker();
      return {
        version: facts.version,
        demo: facts.demo,
        nowMs: facts.nowMs(),
        startedMs: facts.startedMs,
        broker: {
          ...brokerRest,
          ...(tlsPort === undefined ? {} : { tlsPort }),
          state: broker?.state ?? 'starting',
          ...(broker?.message === undefined ? {} : { message: broker.message }),
          ...(broker?.note === undefined ? {} : { note: broker.note }),
        },
        dataBytes: store.bytes,
        disk: diskLife(store),
        store: storeWords === undefined ? { state: 'ok' } : { state: 'failing', message: storeWords },
      };
    },
  };
}
