import type { Channel } from '../collector/model/channel.ts';
import type { Clock } from '../collector/model/clock.ts';
import { DemoSensors, houseAt, reentryBefore } from './demo-house.ts';
import { type DemoLogger, type DemoProperty, demoProperties } from './demo-properties.ts';
import type { House } from './house.ts';
import { connectLogger, type LoggerConnection } from './publish.ts';

export interface DemoLoggerKey {
  readonly id: string;
  readonly key: string | undefined;
}

export interface DemoLoggers {
  /** Samples acknowledged by the broker so far. */
  published(): number;
  stop(): Promise<void>;
}

interface LiveLogger {
  readonly logger: DemoLogger;
  readonly connection: LoggerConnection;
}

interface LiveProperty {
  readonly property: DemoProperty;
  readonly sensors: DemoSensors;
  readonly loggers: readonly LiveLogger[];
  house: House;
  nextMs: number;
  mostBehindMs: number;
}

/** After a longer sleep the seconds missed stay missed: a gap stays a gap. */
const CATCH_UP_MS = 120_000;
/** The history took a while to write: so much may be sent after it, at most a message's 3,600 samples. */
const MOST_CONTINUED_MS = 3_300_000;
const TICK_MS = 1000;
/** A logger's memory for messages that the broker has not acknowledged yet. */
const MOST_IN_FLIGHT = 600;

/**
 * Loggers of the demo houses that publish each second, as messages with their own times, going on with the simulation
 * where the history ended. `continueFromMs` is the history's end on the first start (seconds since then are sent too);
 * without it publishing begins at `nowMs`. Loggers that aren't listed stay silent; rejects with Problem
 * `broker_unreachable` where the broker can't be reached.
 */
export async function startDemoLoggers(options: {
  readonly brokerUrl: string;
  readonly loggers: readonly DemoLoggerKey[];
  readonly nowMs: number;
  readonly clock: Clock;
  /** As `writeDemoHistory` returned it. */
  readonly plannedAtMs: number;
  readonly continueFromMs?: number | undefined;
}): Promise<DemoLoggers> {
  const { brokerUrl, clock, nowMs, plannedAtMs, continueFromMs } = options;
  const keys = new Map(options.loggers.map((logger) => [logger.id, logger.key]));
  const continues =
    continueFromMs !== undefined && nowMs - continueFromMs < MOST_CONTINUED_MS && continueFromMs <= nowMs;
  const fromMs = continues ? continueFromMs : Math.floor(nowMs / 1000) * 1000;
  const connections: LoggerConnection[] = [];
  const live: LiveProperty[] = [];
  try {
    for (const property of demoProperties()) {
      const loggers: LiveLogger[] = [];
      for (const logger of property.loggers) {
        if (!keys.has(logger.id)) continue;
        const connection = await connectLogger(brokerUrl, logger.id, keys.get(logger.id));
        connections.push(connection);
        loggers.push({ logger, connection });
      }
      if (loggers.length === 0) continue;
      live.push({
        property,
        loggers,
        sensors: new DemoSensors(property, `live-${fromMs}`),
        house: houseAt(property, plannedAtMs, reentryBefore(fromMs), fromMs),
        nextMs: fromMs,
        mostBehindMs: MOST_CONTINUED_MS,
      });
    }
  } catch (error) {
    await Promise.allSettled(connections.map((connection) => connection.end()));
    throw error;
  }

  let published = 0;
  const inFlight = new Set<Promise<void>>();
  const send = (connection: LoggerConnection, channel: Channel, samples: { timeMs: number; value: number }[]): void => {
    if (inFlight.size >= MOST_IN_FLIGHT) return;
    const sending = connection.publish(channel, samples).then(
      () => {
        published += samples.length;
        inFlight.delete(sending);
      },
      // A logger that was erased or lost its connection: what it had to say is lost, as it would be in a house.
      () => {
        inFlight.delete(sending);
      },
    );
    inFlight.add(sending);
  };
  const tick = (): void => {
    const dueMs = Math.floor(clock.nowMs() / 1000) * 1000;
    for (const one of live) goOn(one, dueMs, plannedAtMs, send);
  };
  tick();
  const stopTicking = clock.every(TICK_MS, tick);
  return {
    published: () => published,
    async stop() {
      stopTicking();
      await Promise.allSettled(connections.map((connection) => connection.end()));
    },
  };
}

/** Sends the seconds up to and including `dueMs`. */
function goOn(
  one: LiveProperty,
  dueMs: number,
  plannedAtMs: number,
  send: (connection: LoggerConnection, channel: Channel, samples: { timeMs: number; value: number }[]) => void,
): void {
  if (dueMs < one.nextMs) return;
  if (dueMs - one.nextMs > one.mostBehindMs) {
    one.house = houseAt(one.property, plannedAtMs, reentryBefore(dueMs), dueMs);
    one.nextMs = dueMs;
  }
  const columns = one.house.next((dueMs - one.nextMs) / 1000 + 1);
  for (const { logger, connection } of one.loggers) {
    for (const { channel } of logger.channels) {
      const values = one.sensors.read(logger, channel, columns);
      const samples = Array.from(values, (value, i) => ({ timeMs: one.nextMs + i * 1000, value }));
      send(connection, channel, samples);
    }
  }
  one.nextMs = dueMs + 1000;
  one.mostBehindMs = CATCH_UP_MS;
}
