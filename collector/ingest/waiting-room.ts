/*
 * What waits for its commit, by connection and in all: beyond a bound nothing more is read from the socket, so that the
 * sender's own window fills and not our memory.
 */
export interface WaitingLimits {
  /** Messages and bytes of one connection that may wait for their commit before reading from it stops. */
  readonly waitingMessages: number;
  readonly waitingBytes: number;
  /** The same of all connections together: while the store takes nothing, memory must not grow with their number. */
  readonly waitingMessagesInAll: number;
  readonly waitingBytesInAll: number;
}

/** A connection's share, and how its reading is stopped. */
export interface WaitingGuest {
  readonly gate: { holdReading(): void; resumeReading(): void };
  waitingMessages: number;
  waitingBytes: number;
}

export interface WaitingRoom<Guest extends WaitingGuest> {
  /** A message has come and waits. */
  enter(guest: Guest, bytes: number): void;
  /** It waits no more; reading goes on once half of a bound is free again. */
  leave(guest: Guest, bytes: number): void;
  /** The connection is gone; what it left inside still leaves one by one. */
  forget(guest: Guest): void;
}

export function createWaitingRoom<Guest extends WaitingGuest>(limits: WaitingLimits): WaitingRoom<Guest> {
  let messagesInAll = 0;
  let bytesInAll = 0;
  /** Held for what waits in all rather than for their own share. */
  const heldForAll = new Set<Guest>();

  function resume(guest: Guest): void {
    if (guest.waitingMessages > limits.waitingMessages / 2 || guest.waitingBytes > limits.waitingBytes / 2) return;
    guest.gate.resumeReading();
  }

  return {
    enter(guest, bytes) {
      guest.waitingMessages += 1;
      guest.waitingBytes += bytes;
      messagesInAll += 1;
      bytesInAll += bytes;
      const tooManyInAll = messagesInAll >= limits.waitingMessagesInAll || bytesInAll >= limits.waitingBytesInAll;
      if (tooManyInAll) heldForAll.add(guest);
      if (
        tooManyInAll ||
        guest.waitingMessages >= limits.waitingMessages ||
        guest.waitingBytes >= limits.waitingBytes
      ) {
        guest.gate.holdReading();
      }
    },
    leave(guest, bytes) {
      guest.waitingMessages -= 1;
      guest.waitingBytes -= bytes;
      messagesInAll -= 1;
      bytesInAll -= bytes;
      if (!heldForAll.has(guest)) resume(guest);
      if (heldForAll.size === 0) return;
      if (messagesInAll > limits.waitingMessagesInAll / 2 || bytesInAll > limits.waitingBytesInAll / 2) return;
      const held = [...heldForAll];
      heldForAll.clear();
      for (const each of held) resume(each);
    },
    forget: (guest) => void heldForAll.delete(guest),
  };
}
