import type { LiveClient } from '../data/live-client.ts';
import type { Page } from '../view-state.ts';

/** What a page is given; it fetches what it shows and hands it to parts that only draw. */
export interface PageContext {
  readonly live: LiveClient;
  /** Goes to an address of ours; `replace` leaves no step to go back to. */
  navigate(address: string, how?: 'push' | 'replace'): void;
  /** Says a short sentence to screen readers and at the foot of the page. */
  announce(text: string): void;
}

export interface PageView {
  readonly element: HTMLElement;
  /** For the browser's tab; the product's name is added. */
  title(): string;
  /** The address changed within this page. False: another page must be built. */
  follow?(page: Page): boolean;
  /** Ends timers, requests and subscriptions. */
  stop(): void;
}
