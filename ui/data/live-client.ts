import {
  type FollowedSubject,
  type FollowMessage,
  type LiveFrame,
  readLiveFrame,
} from '../../api/contract/live-frames.ts';
import { ROUTES } from '../../api/contract/route-table.ts';

/** Whether new samples can be seen as they come. */
export type LiveState = 'connecting' | 'open' | 'lost';

export interface LiveClient {
  onFrame(listener: (frame: LiveFrame) => void): () => void;
  onState(listener: (state: LiveState) => void): () => void;
  state(): LiveState;
  /** Asks to be told of findings as they grow, while this page can be seen; undefined: of none any more. */
  follow(subject: FollowedSubject | undefined): void;
}

/** Waits between attempts double from one second to half a minute: soon enough to notice, rare enough to be no load. */
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 30_000;

/** One WebSocket for the whole page, opened again whenever it is lost. */
export function startLiveClient(): LiveClient {
  const frameListeners = new Set<(frame: LiveFrame) => void>();
  const stateListeners = new Set<(state: LiveState) => void>();
  let state: LiveState = 'connecting';
  let waitMs = FIRST_WAIT_MS;
  let timer: ReturnType<typeof setTimeout> | undefined;
  let socket: WebSocket | undefined;
  let followed: FollowedSubject | undefined;

  function tellFollowed(): void {
    if (socket?.readyState !== WebSocket.OPEN) return;
    const shown = document.visibilityState === 'visible' ? followed : undefined;
    socket.send(JSON.stringify({ type: 'follow', ...shown } satisfies FollowMessage));
  }

  function setState(next: LiveState): void {
    if (next === state) return;
    state = next;
    for (const listener of stateListeners) listener(state);
  }

  function open(): void {
    clearTimeout(timer);
    const opened = new WebSocket(
      `${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}${ROUTES.live.path}`,
    );
    socket = opened;
    opened.addEventListener('open', () => {
      waitMs = FIRST_WAIT_MS;
      if (followed) tellFollowed();
      setState('open');
    });
    opened.addEventListener('message', (event) => {
      const frame = typeof event.data === 'string' ? readLiveFrame(event.data) : undefined;
      if (frame) for (const listener of frameListeners) listener(frame);
    });
    opened.addEventListener('close', () => {
      setState('lost');
      timer = setTimeout(open, waitMs);
      waitMs = Math.min(waitMs * 2, LONGEST_WAIT_MS);
    });
  }

  open();
  document.addEventListener('visibilitychange', tellFollowed);
  addEventListener('online', () => {
    if (state !== 'lost') return;
    waitMs = FIRST_WAIT_MS;
    open();
  });

  return {
    onFrame: (listener) => subscribe(frameListeners, listener),
    onState: (listener) => subscribe(stateListeners, listener),
    state: () => state,
    follow(subject) {
      followed = subject;
      tellFollowed();
    },
  };
}

function subscribe<T>(listeners: Set<T>, listener: T): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}
