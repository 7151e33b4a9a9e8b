import type { CollectorStore } from '../collector.ts';
import type { Log } from '../ports.ts';
import type { MappingBook } from './mapping-book.ts';

/** What is used of an mqtt.js client. */
export interface SubscribingClient {
  readonly connected: boolean;
  subscribe(
    filter: string,
    options: { qos: 1 },
    done: (error: Error | null, granted?: readonly { readonly qos: number }[]) => void,
  ): unknown;
  unsubscribe(filter: string, done: (error?: Error | null) => void): unknown;
}

export interface FilterFollower {
  /** The client is connected, its session found or not: all filters are asked for, old ones given up. */
  connected(client: SubscribingClient): void;
  stop(): void;
}

/** Where the filters last subscribed to are kept: the broker's session remembers them longer than we run. */
const STATE_NAME = 'subscribed filters';

/**
 * Keeps an outside broker's subscriptions equal to the devices' own filters, while connected and after every
 * reconnection. A filter that the broker refuses is told in the book and harms no other logger.
 */
export function followFilters(needs: {
  mappings: MappingBook;
  store: Pick<CollectorStore, 'state' | 'putState'>;
  log: Log;
}): FilterFollower {
  const { mappings, store, log } = needs;
  let client: SubscribingClient | undefined;
  let turns: Promise<unknown> = Promise.resolve();
  /** What the broker may still hold for us; undefined until it is read. */
  let held: Set<string> | undefined;

  async function align(asked: SubscribingClient, all: boolean): Promise<void> {
    held ??= remembered(await store.state(STATE_NAME));
    if (!asked.connected) return;
    const wanted = new Set(mappings.filters());
    const gone = [...held].filter((filter) => !wanted.has(filter));
    const fresh = [...wanted].filter((filter) => all || !held!.has(filter));
    if (gone.length + fresh.length === 0) return;
    // Before the broker is asked: should we be stopped in between, nothing stays subscribed unknown.
    await store.putState(STATE_NAME, JSON.stringify([...new Set([...held, ...wanted])]));
    for (const filter of fresh) held.add(filter);
    await Promise.all([...gone.map((filter) => giveUp(asked, filter)), ...fresh.map((filter) => ask(asked, filter))]);
    await store.putState(STATE_NAME, JSON.stringify([...held]));
  }

  function ask(asked: SubscribingClient, filter: string): Promise<void> {
    return new Promise((resolve) => {
      asked.subscribe(filter, { qos: 1 }, (error, granted) => {
        const refusal = error?.message ?? (granted?.some(({ qos }) => qos >= 128) ? 'not allowed' : undefined);
        mappings.granted(filter, refusal);
        if (refusal !== undefined) log.warn({ filter, reason: refusal }, "the broker refused a device's own filter");
        resolve();
      });
    });
  }

  function giveUp(asked: SubscribingClient, filter: string): Promise<void> {
    return new Promise((resolve) => {
      asked.unsubscribe(filter, (error) => {
        if (!error) held?.delete(filter);
        resolve();
      });
    });
  }

  function inTurn(all: boolean): void {
    const asked = client;
    if (asked === undefined) return;
    turns = turns
      .then(() => align(asked, all))
      .catch((error: unknown) => log.warn({ err: error }, "the devices' own filters could not be subscribed to"));
  }

  const stopFollowing = mappings.onFilters(() => inTurn(false));
  return {
    connected(now) {
      client = now;
      inTurn(true);
    },
    stop() {
      client = undefined;
      stopFollowing();
    },
  };
}

function remembered(text: string | undefined): Set<string> {
  try {
    const list = JSON.parse(text ?? '[]') as unknown;
    return new Set(Array.isArray(list) ? list.filter((entry) => typeof entry === 'string') : []);
  } catch {
    return new Set();
  }
}
