import { call } from '../data/api-client.ts';
import { valueWithUnit } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { addressOf } from '../view-state.ts';
import { sampleWords } from './logger-words.ts';
import type { PageContext } from './page-view.ts';

/** How often the server is asked besides the live connection: it also tells refusals, which come by no frame. */
const ASK_MS = 5_000;

/**
 * "Waiting for the first sample" that turns into it, or says why what came couldn't be read. On the logger's own page
 * `onArrived` takes the place of the link there.
 */
export function createFirstSample(
  context: PageContext,
  loggerId: string,
  siteId: string | undefined,
  onArrived?: () => void,
): { element: HTMLElement; stop(): void } {
  const element = el('div', { role: 'status', class: 'first-sample' }, el('p', {}, 'Waiting for the first sample …'));
  let arrived = false;

  function show(words: string): void {
    if (arrived) return;
    arrived = true;
    clearInterval(timer);
    replace(
      element,
      el('p', {}, `The first sample has arrived: ${words}. The logger is in use.`),
      el(
        'p',
        { class: 'buttons' },
        siteId !== undefined &&
          el(
            'a',
            { class: 'action main', href: addressOf({ name: 'chart', siteId, loggerId, span: { lastMs: 600_000 } }) },
            'Watch it live',
          ),
        onArrived === undefined &&
          el('a', { class: 'action', href: addressOf({ name: 'logger', loggerId }) }, 'To its page'),
      ),
    );
    onArrived?.();
  }

  async function ask(): Promise<void> {
    try {
      const logger = await call('getLogger', { params: { id: loggerId } });
      if (logger.lastSample) return show(sampleWords(logger.lastSample));
      if (logger.refused === 0 || arrived) return;
      const [newest] = (await call('loggerRefusals', { params: { id: loggerId } })).sort(
        (a, b) => Date.parse(b.time) - Date.parse(a.time),
      );
      if (newest && !arrived)
        replace(
          element,
          el('p', {}, 'Waiting for the first sample …'),
          el(
            'p',
            { class: 'problem' },
            `A message came that couldn’t be read: ${newest.reason}. It said: `,
            el('code', {}, newest.excerpt),
          ),
        );
    } catch {
      // The live note at the foot says that the program can't be reached; the next round asks again.
    }
  }

  const timer = setInterval(() => void ask(), ASK_MS);
  const unsubscribe = context.live.onFrame((frame) => {
    if (frame.type !== 'samples') return;
    const piece = frame.series.find((candidate) => candidate.logger === loggerId && candidate.value.length > 0);
    if (piece) show(valueWithUnit(piece.value[0]!, piece.unit));
  });
  return {
    element,
    stop() {
      clearInterval(timer);
      unsubscribe();
    },
  };
}
