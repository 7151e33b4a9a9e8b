import { randomUUID } from 'node:crypto';
import { mkdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { createClockBook } from '../collector/clocks/clock-book.ts';
import { createCollector } from '../collector/collector.ts';
import { startBrokerSubscriber } from '../collector/ingest/broker-subscriber.ts';
import { type EmbeddedBroker, startEmbeddedBroker } from '../collector/ingest/embedded-broker.ts';
import { followFilters } from '../collector/ingest/follow-filters.ts';
import { listen } from '../collector/ingest/listen.ts';
import { createMappingBook } from '../collector/ingest/mapping-book.ts';
import type { Clock } from '../collector/model/clock.ts';
import { Problem } from '../collector/model/problem.ts';
import type { BrokerHealth, Log } from '../collector/ports.ts';
import type { Store } from '../collector/store/port.ts';
import { openSqliteStore } from '../collector/store/sqlite/open-store.ts';
import { createRecordUpkeep } from '../collector/store/sqlite/record-upkeep.ts';
import { ownerPasswordExists } from './access/access-file.ts';
import { loggerAuthenticator } from './access/logger-key.ts';
import { createOwnHosts } from './access/own-hosts.ts';
import { createOwnerAccess } from './access/owner-access.ts';
import { LIVE_VERSION } from './contract/live-frames.ts';
import { createApp } from './http/app.ts';
import { onFreePort } from './http/free-port.ts';
import { createHttpServer, stopHttpServer } from './http/http-server.ts';
import { loggerResources } from './http/logger-resource.ts';
import { createMetrics } from './http/metrics.ts';
import { problemBody } from './http/problem-response.ts';
import { createProgramStatus } from './http/program-status.ts';
import { foreignOrigin, mayEnter, misdirected, signInNeeded } from './http/request-guard.ts';
import { routeHandlers } from './http/route-handlers.ts';
import { hostFromHere, hostInUrl, outsideBroker } from './http/shown-address.ts';
import { followFindings } from './live/follow-findings.ts';
import { followStates } from './live/follow-states.ts';
import { createLiveFeed } from './live/live-feed.ts';
import { createLiveSocket } from './live/live-socket.ts';
import { isLoopbackHost, type ServeSettings } from './settings.ts';
import { createEndings, type Endings } from './work/endings.ts';
import { eraseHidden } from './work/erase-hidden.ts';
import { createFindingsService } from './work/findings-service.ts';
import { createLetterService } from './work/letter-service.ts';
import { createRecordCheckService } from './work/record-check-service.ts';
import { runDemo } from './work/run-demo.ts';
import { startSealing } from './work/sealing.ts';
import { createWorkerPool } from './work/worker-pool.ts';

/** What the program is given from outside. */
export interface ComposePorts {
  readonly clock: Clock;
  readonly log: Log;
  readonly version: string;
  /** Lets commands of the same user in; it stands in the data folder's holder file. */
  readonly commandToken?: string | undefined;
  /** The built page; by default the one beside this program. */
  readonly pageFolder?: string | undefined;
}

/** Where the program listens once it does. */
export interface Listening {
  /** Address of the page, `http://127.0.0.1:8080`. */
  readonly url: string;
  readonly httpPort: number;
  /** Undefined with an outside broker. */
  readonly mqttPort: number | undefined;
  readonly mqttTlsPort: number | undefined;
  /** Ports that were taken, in sentences. */
  readonly notes: readonly string[];
}

export interface Program {
  /**
   * Resolves once HTTP and MQTT listen; a demo's history is written after that and told in health. Rejects with what
   * stands in the way (`password_needed`, `port_taken`, `cannot_listen`, `certificate_unfit`, the store's Problems), and
   * has then let go of everything.
   */
  start(): Promise<Listening>;
  /** Ends all parts in reverse order, whatever state they are in. Always completes. */
  stop(): Promise<void>;
}

const ERASE_EVERY_MS = 3_600_000;

/** Builds and joins everything. */
export function compose(settings: ServeSettings, ports: ComposePorts): Program {
  const endings = createEndings(ports.log);
  return {
    async start() {
      try {
        return await startParts(settings, ports, endings.add);
      } catch (error) {
        await endings.stop();
        throw error;
      }
    },
    stop: endings.stop,
  };
}

async function startParts(settings: ServeSettings, ports: ComposePorts, onStop: Endings['add']): Promise<Listening> {
  const { clock, log, version } = ports;
  const { dataFolder } = settings;
  const startedMs = clock.nowMs();
  const reachable = !isLoopbackHost(settings.httpHost);
  if (reachable && !ownerPasswordExists(dataFolder)) throw passwordNeeded(settings.httpHost);
  const tls = readTls(settings);

  const store = await openSqliteStore({ folder: dataFolder, clock });
  onStop('store', () => store.close());
  const mappings = createMappingBook(await store.loggers());
  const collector = createCollector({ store, clock, log, mappings });
  onStop('collector', () => collector.stop());
  const clocks = createClockBook({ store, log });
  onStop('clocks', () => clocks.stop());
  onStop('arrivals', collector.onStored(clocks.stored));
  const pool = createWorkerPool(log);
  onStop('workers', () => pool.stop());
  const watchPool = createWorkerPool(log, 1);
  onStop('watches', () => watchPool.stop());
  const upkeep = createRecordUpkeep(dataFolder);
  onStop('upkeep', () => upkeep.stop());
  const recordCheck = await createRecordCheckService({ settings: store, upkeep, nowMs: clock.nowMs, log });
  const findings = createFindingsService({ store, pool, watchPool, clock });
  const letters = createLetterService({ store, pool, findings, clocks, clock, version });

  let httpPort = 0;
  let broker: { health(): BrokerHealth; stop(): Promise<void> } | undefined;
  let embedded: EmbeddedBroker | undefined;
  let started = false;
  const demo = settings.demo ? { share: 0, failure: undefined as string | undefined } : undefined;

  const hosts = createOwnHosts({ httpHost: settings.httpHost, port: () => httpPort, tls: tls !== undefined });
  const access = createOwnerAccess({
    folder: dataFolder,
    clock,
    required: reachable,
    commandToken: ports.commandToken,
  });
  const live = createLiveSocket({
    clock,
    product: version,
    admit(request) {
      const { host, origin } = request.headers;
      if (!hosts.isOurs(host)) throw misdirected(host);
      if (origin !== undefined && !hosts.isOwnOrigin(origin, host ?? '')) throw foreignOrigin();
      if (!mayEnter(access, tls !== undefined, request.headers)) throw signInNeeded();
    },
    refusal(thrown) {
      const body = problemBody(thrown);
      return { status: body.status, body: JSON.stringify(body) };
    },
  });
  const feed = createLiveFeed({ settings: store, clock, log, readers: live.readers, send: live.send });
  const follower = followFindings({ clock, log, findings, followed: live.followed, send: live.send });
  const storeFailure = () => {
    const health = collector.health();
    return health.state === 'ok' ? undefined : (health.message ?? 'the store takes no samples');
  };
  let presenceChanges = 0;
  let settingsChanges = 0;
  onStop(
    'presence',
    collector.onPresence(() => {
      presenceChanges += 1;
    }),
  );
  const resourceNeeds = {
    store,
    presence: collector.presence,
    storeFailure,
    nowMs: clock.nowMs,
    filterRefusal: mappings.refusalOf,
    clockState: clocks.state,
  };
  const metrics = createMetrics({
    counters: () => collector.counters().total,
    storeHealth: () => store.health(),
    brokerHealth: () => broker?.health(),
    brokerIsWell: () => ['listening', 'connected'].includes(broker?.health().state ?? ''),
    liveReaders: live.readers,
    jobsWaiting: pool.waiting,
    clocks: clocks.known,
  });
  const status = createProgramStatus({
    version,
    demo: settings.demo,
    startedMs,
    nowMs: clock.nowMs,
    storeHealth: () => store.health(),
    commitFailure: storeFailure,
    brokerHealth: () => broker?.health(),
    broker: () =>
      settings.broker !== undefined
        ? outsideBroker(settings.broker)
        : {
            kind: 'embedded',
            host: settings.mqttHost,
            port: embedded?.port ?? settings.mqttPort,
            tlsPort: embedded?.tlsPort,
          },
    demoHistory: () => demo,
    recordDamage: recordCheck.damage,
    isStarted: () => started,
  });
  const spoolFolder = join(dataFolder, 'spool');
  // What a killed upload left behind belongs to nobody: this process alone holds the folder.
  rmSync(spoolFolder, { recursive: true, force: true });
  mkdirSync(spoolFolder, { recursive: true, mode: 0o700 });
  const handlers = routeHandlers({
    ...resourceNeeds,
    revision: () => ({
      settings: `${settingsChanges} ${presenceChanges} ${storeFailure() ?? ''}`,
      record: `${store.revision()}`,
    }),
    clock,
    findings,
    letters,
    access,
    tls: tls !== undefined,
    status,
    metrics,
    spoolFolder,
    upkeep,
    recordCheck,
    storePieces: collector.storePieces,
    progress: (frame) => live.send({ type: 'progress', version: LIVE_VERSION, ...frame }),
    changed(what, id) {
      settingsChanges += 1;
      follower.changed();
      if (what === 'logger') {
        collector.forget(id);
        feed.forget(id);
        store
          .logger(id)
          .then((logger) => {
            mappings.set(id, logger);
            if (logger === undefined) clocks.forget(id);
          })
          .catch((error: unknown) => log.warn({ err: error }, 'a change of a logger is not followed yet'));
      }
      live.send({ type: 'changed', version: LIVE_VERSION, what, id });
    },
    keyEnded: (id) => embedded?.disconnect(id),
  });
  const app = createApp({
    handlers,
    hosts,
    access,
    metrics,
    log,
    tls: tls !== undefined,
    version,
    pageFolder: ports.pageFolder ?? besidePage(),
  });

  const notes: string[] = [];
  const free = <Result>(wanted: number, tryPort: (port: number) => Promise<Result>) =>
    onFreePort(wanted, settings.takeNextFreePort, notes, tryPort);

  // Loggers first: should the page's port be taken, no sample was lost by it.
  const authenticate = loggerAuthenticator(store);
  if (settings.broker === undefined) {
    embedded = await free(settings.mqttPort, (port) =>
      startEmbeddedBroker({
        host: settings.mqttHost,
        port,
        tls: tls && settings.mqttTlsPort !== undefined ? { port: settings.mqttTlsPort, ...tls } : undefined,
        collector,
        authenticate,
        log,
      }),
    );
    broker = embedded;
  } else
    broker = startBrokerSubscriber({
      url: settings.broker,
      user: settings.brokerUser,
      password: settings.brokerPassword,
      ca: settings.brokerCaFile === undefined ? undefined : readFileSync(settings.brokerCaFile),
      session: await brokerSessionOf(store, settings.broker, log),
      installation: await installationOf(store),
      collector,
      filters: followFilters({ mappings, store, log }),
      log,
    });
  const { stop: stopBroker } = broker;
  onStop('mqtt', stopBroker);

  const server = await free(settings.httpPort, async (port) => {
    const candidate = createHttpServer(app, tls);
    httpPort = await listen(candidate, settings.httpHost, port, 'http-port');
    return candidate;
  });
  live.attach(server);
  onStop('http', () => stopHttpServer(server));
  onStop('live', () => live.stop());
  onStop('feed', () => feed.stop());
  onStop('stored', collector.onStored(feed.stored));
  onStop('findings', () => follower.stop());
  onStop('growing', collector.onStored(follower.stored));
  onStop(
    'states',
    followStates({
      clock,
      log,
      readers: live.readers,
      loggers: async () => loggerResources(resourceNeeds, await store.loggers()),
      onPresence: collector.onPresence,
      send: live.send,
    }),
  );
  const sealing = startSealing({ store, clock, log });
  onStop('sealing', () => sealing.stop());
  const erase = () =>
    void eraseHidden(store, clock.nowMs(), log).catch((error: unknown) =>
      log.warn({ err: error }, 'what was hidden for thirty days could not be erased; it is tried again'),
    );
  erase();
  onStop('erasing', clock.every(ERASE_EVERY_MS, erase));
  started = true;
  if (demo) {
    const running = runDemo({
      parts: () => import('../simulator/demo.ts'),
      store,
      collector,
      clock,
      brokerUrl: settings.broker ?? `mqtt://${hostFromHere(settings.mqttHost)}:${embedded?.port ?? 0}`,
      onProgress(share) {
        demo.share = share;
        const finished = share === 1;
        live.send({
          type: 'progress',
          version: LIVE_VERSION,
          task: 'demo_history',
          subject: '',
          done: share,
          total: 1,
          finished,
        });
      },
    });
    onStop('demo', () => running.stop());
    running.done.catch((error: unknown) => {
      if (running.isStopped()) return;
      demo.failure = error instanceof Error ? error.message : String(error);
      log.error({ err: error }, 'the demo could not be made');
    });
  }
  return {
    url: `${tls ? 'https' : 'http'}://${hostInUrl(settings.httpHost)}:${httpPort}`,
    httpPort,
    mqttPort: embedded?.port,
    mqttTlsPort: embedded?.tlsPort,
    notes,
  };
}

/** A name for this installation that stays, by which an outside broker knows its session. */
async function installationOf(store: Store): Promise<string> {
  const known = await store.state('installation');
  if (known !== undefined) return known;
  const made = randomUUID();
  await store.putState('installation', made);
  return made;
}

/** Remembers which outside broker holds a session of ours, so that a broker that has forgotten it is found out. */
async function brokerSessionOf(store: Store, broker: string, log: Log) {
  const known = (await store.state('broker/session')) === broker;
  return {
    known,
    remember: () =>
      void store
        .putState('broker/session', broker)
        .catch((error: unknown) => log.warn({ err: error }, "the broker's session could not be remembered")),
  };
}

function readTls(settings: ServeSettings): { cert: Buffer; key: Buffer } | undefined {
  if (settings.tlsCertFile === undefined || settings.tlsKeyFile === undefined) return undefined;
  return { cert: readFileSync(settings.tlsCertFile), key: readFileSync(settings.tlsKeyFile) };
}

function passwordNeeded(httpHost: string): Problem {
  return new Problem(
    'password_needed',
    `--http-host ${httpHost} lets other machines reach the page, and no owner's password is set`,
    'Run mainsdiary password first, with the same --data, or leave --http-host out',
  );
}

/** The page is built into dist/ui, beside the compiled program. */
function besidePage(): string {
  return fileURLToPath(new URL(import.meta.url.endsWith('.ts') ? '../dist/ui/' : '../ui/', import.meta.url));
}
