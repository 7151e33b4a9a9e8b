import { call } from '../data/api-client.ts';
import type { LiveClient } from '../data/live-client.ts';
import { el, replace } from './element.ts';
import { programFaults } from './program-faults.ts';

/** How often the program is asked how it is, while the page is looked at. */
const ASK_EVERY_MS = 10_000;

/** Keeps `place` telling what is wrong with the program, on whatever page; empty while nothing is. */
export function followProgram(place: HTMLElement, live: LiveClient): void {
  let shown = '';
  let asking = false;

  async function ask(): Promise<void> {
    if (asking || document.hidden) return;
    asking = true;
    try {
      show(programFaults(await call('about')));
    } catch {
      // That the program can't be reached is told where the lost connection is.
    } finally {
      asking = false;
    }
  }

  // Told again only when it changes: a screen reader would otherwise say it every time.
  function show(faults: readonly string[]): void {
    const text = faults.join('\n');
    if (text === shown) return;
    shown = text;
    replace(place, faults.length > 0 && el('div', { class: 'problem' }, ...faults.map((fault) => el('p', {}, fault))));
  }

  setInterval(() => void ask(), ASK_EVERY_MS);
  document.addEventListener('visibilitychange', () => void ask());
  live.onState((state) => {
    if (state === 'open') void ask();
  });
  live.onFrame((frame) => {
    // A logger's state turns as soon as storing fails, and back.
    if (frame.type === 'logger') void ask();
  });
  void ask();
}
