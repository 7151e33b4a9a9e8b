import type { EpochMs } from '../model/units.ts';
import type { LoggerPresence } from '../ports.ts';
import type { StatusWord } from './topic.ts';

export interface PresenceBook {
  connectionOpened(loggerId: string, atMs: EpochMs): void;
  connectionClosed(loggerId: string, atMs: EpochMs): void;
  said(loggerId: string, word: StatusWord, atMs: EpochMs): void;
  /** Open connections that we know of; nought behind an outside broker. */
  connections(loggerId: string): number;
  presence(loggerId: string): LoggerPresence | undefined;
  onChange(listener: (presence: LoggerPresence) => void): () => void;
}

/**
 * Who is there. An open connection outweighs what was said: the will of a connection that was taken over arrives
 * after the new one is open.
 */
export function createPresenceBook(onListenerFault: (error: unknown) => void): PresenceBook {
  const known = new Map<string, { connections: number; word: StatusWord | undefined; presence: LoggerPresence }>();
  const listeners = new Set<(presence: LoggerPresence) => void>();

  function change(loggerId: string, atMs: EpochMs, connectionsBy: number, word: StatusWord | undefined): void {
    const before = known.get(loggerId);
    const connections = Math.max(0, (before?.connections ?? 0) + connectionsBy);
    const said = connectionsBy < 0 && connections === 0 ? 'offline' : (word ?? before?.word);
    const state: LoggerPresence['state'] = connections > 0 ? 'online' : (said ?? 'unknown');
    const changed = before?.presence.state !== state;
    const presence: LoggerPresence =
      changed || before === undefined ? { loggerId, state, sinceMs: atMs } : before.presence;
    known.set(loggerId, { connections, word: said, presence });
    if (!changed) return;
    for (const listener of listeners) {
      try {
        listener(presence);
      } catch (error) {
        onListenerFault(error);
      }
    }
  }

  return {
    connectionOpened: (loggerId, atMs) => change(loggerId, atMs, 1, undefined),
    connectionClosed: (loggerId, atMs) => change(loggerId, atMs, -1, undefined),
    said: (loggerId, word, atMs) => change(loggerId, atMs, 0, word),
    connections: (loggerId) => known.get(loggerId)?.connections ?? 0,
    presence: (loggerId) => known.get(loggerId)?.presence,
    onChange(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
  };
}
