import type { RequestHandler } from 'express';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import { BROKER_FAULTS, type BrokerHealth, type IntakeCounters } from '../../collector/ports.ts';
import type { StoreHealth } from '../../collector/store/port.ts';
import type { RouteId } from '../contract/route-table.ts';
import { diskLife } from '../work/disk-life.ts';

/** What is asked when the metrics are fetched. */
export interface MetricsSource {
  counters(): Readonly<IntakeCounters>;
  storeHealth(): Promise<StoreHealth>;
  brokerIsWell(): boolean;
  /** Undefined until it has been started. */
  brokerHealth(): BrokerHealth | undefined;
  liveReaders(): number;
  /** Computations that wait for a worker. */
  jobsWaiting(): number;
  /** Loggers whose own clocks are known. */
  clocks(): readonly { readonly loggerId: string; readonly estimate: { readonly offsetMs: number } }[];
}

export interface Metrics {
  readonly contentType: string;
  text(): Promise<string>;
  countRequest(id: RouteId): RequestHandler;
}

const INTAKE = {
  messages: ['mainsdiary_messages_total', 'Messages received from loggers'],
  stored: ['mainsdiary_samples_stored_total', 'Samples committed to the store'],
  duplicate: ['mainsdiary_samples_duplicate_total', 'Samples that were there already'],
  conflict: ['mainsdiary_samples_conflict_total', 'Samples of a known time with another value; the first stays'],
  erased: ['mainsdiary_samples_erased_hours_total', 'Samples of hours that were erased by age; they are left out'],
  refused: ['mainsdiary_entries_refused_total', 'Entries that could not be read'],
} as const satisfies Record<Exclude<keyof IntakeCounters, 'waiting'>, readonly [string, string]>;

/** Counters and gauges in a registry of their own, so that two programs in one process (tests) don't mix. */
export function createMetrics(source: MetricsSource): Metrics {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  for (const [key, [name, help]] of Object.entries(INTAKE) as [keyof typeof INTAKE, readonly [string, string]][])
    new Counter({
      name,
      help,
      registers: [registry],
      collect() {
        this.reset();
        this.inc(source.counters()[key]);
      },
    });
  const gauge = (name: string, help: string, read: () => number | Promise<number | undefined>) =>
    new Gauge({
      name,
      help,
      registers: [registry],
      async collect() {
        const value = await read();
        // What isn't known is left out: a nought would be an alarm.
        if (value === undefined) this.remove();
        else this.set(value);
      },
    });
  gauge('mainsdiary_messages_waiting', 'Messages accepted and not yet committed', () => source.counters().waiting);
  gauge('mainsdiary_live_readers', 'Open WebSockets', () => source.liveReaders());
  gauge('mainsdiary_jobs_waiting', 'Computations that wait for a worker', () => source.jobsWaiting());
  gauge('mainsdiary_broker_well', '1 while messages can arrive', () => (source.brokerIsWell() ? 1 : 0));
  new Gauge({
    name: 'mainsdiary_broker_fault',
    help: '1 for what keeps messages from the outside broker away, 0 for the others',
    labelNames: ['fault'],
    registers: [registry],
    collect() {
      const seen = source.brokerHealth()?.fault;
      for (const fault of BROKER_FAULTS) this.set({ fault }, fault === seen ? 1 : 0);
    },
  });
  gauge(
    'mainsdiary_broker_sessions_lost',
    'Times since the start that the outside broker had forgotten what waited there',
    () => source.brokerHealth()?.sessionsLost ?? 0,
  );
  gauge('mainsdiary_store_well', '1 while samples can be stored', async () =>
    (await source.storeHealth()).state === 'ok' ? 1 : 0,
  );
  gauge('mainsdiary_store_bytes', 'Size of the store', async () => (await source.storeHealth()).bytes);
  gauge('mainsdiary_disk_free_bytes', 'What the disk of the data folder has left', async () => {
    return (await source.storeHealth()).freeBytes;
  });
  gauge(
    'mainsdiary_store_bytes_per_day',
    'What all loggers together add a day; missing before the first whole day',
    async () => {
      return (await source.storeHealth()).bytesPerDay;
    },
  );
  gauge(
    'mainsdiary_disk_days_left',
    'Days until the disk is full at the present rate; missing where unknown',
    async () => {
      return diskLife(await source.storeHealth()).daysLeft ?? undefined;
    },
  );
  gauge(
    'mainsdiary_sealing_hours_waiting',
    'Closed hours that wait to become blocks',
    async () => (await source.storeHealth()).sealing,
  );
  new Gauge({
    name: 'mainsdiary_logger_clock_offset_seconds',
    help: "The logger's own clock less ours; missing while it can't be told",
    labelNames: ['logger'],
    registers: [registry],
    collect() {
      this.reset();
      for (const { loggerId, estimate } of source.clocks()) this.set({ logger: loggerId }, estimate.offsetMs / 1000);
    },
  });
  const requests = new Histogram({
    name: 'mainsdiary_http_request_seconds',
    help: 'Time to answer, by route and status',
    labelNames: ['route', 'status'],
    buckets: [0.005, 0.02, 0.1, 0.5, 2, 10, 60],
    registers: [registry],
  });
  return {
    contentType: registry.contentType,
    text: () => registry.metrics(),
    countRequest: (route) => (_request, response, next) => {
      const end = requests.startTimer({ route });
      response.once('close', () => end({ status: String(response.statusCode) }));
      next();
    },
  };
}
