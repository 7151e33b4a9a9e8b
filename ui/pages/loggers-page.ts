import type { LoggerResource, SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { siteLinks } from '../parts/site-links.ts';
import { addressOf } from '../view-state.ts';
import { loggerSentence } from './logger-words.ts';
import type { PageContext, PageView } from './page-view.ts';
import { createRefusalList } from './refusal-list.ts';

/** All loggers, or those of one site, each with its state in words. */
export function createLoggersPage(context: PageContext, siteId: string | undefined): PageView {
  const heading = el('h1', {}, 'Loggers');
  const list = el('div', {}, el('p', { class: 'quiet', role: 'status' }, 'Loading the loggers.'));
  const unknown = el('div', {});
  const element = el(
    'div',
    {},
    heading,
    siteId !== undefined && siteLinks(siteId, 'site-loggers'),
    list,
    el(
      'p',
      {},
      el('a', { class: 'action main wide', href: addressOf({ name: 'new-logger', siteId }) }, 'Add a logger'),
    ),
    unknown,
  );
  const abort = new AbortController();
  const { signal } = abort;

  async function load(): Promise<void> {
    try {
      const [sites, loggers] = await Promise.all([call('listSites', { signal }), call('listLoggers', { signal })]);
      const site = sites.find((candidate) => candidate.id === siteId);
      if (site) heading.textContent = `Loggers of ${site.name}`;
      const here = siteId === undefined ? loggers : loggers.filter((logger) => logger.site === siteId);
      replace(
        list,
        ...(here.length === 0
          ? [
              el(
                'p',
                {},
                'There is no logger yet. A logger is a small device with a pressure transducer that publishes its readings over MQTT; adding one here gives it its name and its key.',
              ),
              el('p', {}, 'Without a device you can still begin: add a logger and import a CSV file on its page.'),
            ]
          : here.map((logger) => entry(logger, sites, siteId === undefined))),
      );
      if (siteId === undefined) await loadUnknown();
    } catch (error) {
      if (!signal.aborted)
        replace(
          list,
          problemNote(error, () => void load()),
        );
    }
  }

  async function loadUnknown(): Promise<void> {
    const refusals = await call('unknownRefusals', { signal });
    if (refusals.length === 0) return;
    const shown = createRefusalList();
    shown.update(refusals);
    replace(
      unknown,
      el('h2', {}, 'Messages that name no known logger'),
      el(
        'p',
        {},
        'Somebody publishes here under a name that isn’t added. If it is yours, add a logger with that name.',
      ),
      shown.element,
    );
  }

  void load();
  const unsubscribe = context.live.onFrame((frame) => {
    if (frame.type === 'logger' || (frame.type === 'changed' && frame.what === 'logger')) void load();
  });
  return {
    element,
    title: () => heading.textContent ?? '',
    stop() {
      abort.abort();
      unsubscribe();
    },
  };
}

function entry(logger: LoggerResource, sites: readonly SiteResource[], named: boolean): HTMLElement {
  const site = sites.find((candidate) => candidate.id === logger.site);
  return el(
    'section',
    {},
    el('h2', {}, el('a', { class: 'row-link', href: addressOf({ name: 'logger', loggerId: logger.id }) }, logger.id)),
    el('p', {}, `${named && site ? `${site.name}: ` : ''}${loggerSentence(logger, Date.now(), site?.timeZone)}`),
  );
}
