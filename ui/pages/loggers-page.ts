import type { LoggerResource, SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { sentence } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { siteLinks } from '../parts/site-links.ts';
import { addressOf } from '../view-state.ts';
import { loggerState, roomTaken } from './logger-words.ts';
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
  let entries = new Map<string, Entry>();

  async function load(): Promise<void> {
    try {
      const [sites, loggers] = await Promise.all([call('listSites', { signal }), call('listLoggers', { signal })]);
      const site = sites.find((candidate) => candidate.id === siteId);
      if (site) heading.textContent = `Loggers of ${site.name}`;
      const here = siteId === undefined ? loggers : loggers.filter((logger) => logger.site === siteId);
      if (here.length === 0) replace(list, ...emptyNote());
      else showEntries(here, sites);
      if (siteId === undefined) await loadUnknown();
    } catch (error) {
      if (signal.aborted) return;
      entries = new Map();
      replace(
        list,
        problemNote(error, () => void load()),
      );
    }
  }

  /** Only what differs is made anew, so that nobody's place in the list is lost. */
  function showEntries(loggers: readonly LoggerResource[], sites: readonly SiteResource[]): void {
    if (loggers.map(({ id }) => id).join(' ') !== [...entries.keys()].join(' ')) {
      entries = new Map(loggers.map(({ id }) => [id, createEntry(id, siteId === undefined)]));
      replace(list, ...[...entries.values()].map(({ element }) => element));
    }
    for (const logger of loggers)
      entries.get(logger.id)?.update(
        logger,
        sites.find(({ id }) => id === logger.site),
      );
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

function emptyNote(): HTMLElement[] {
  return [
    el(
      'p',
      {},
      'There is no logger yet. A logger is a small device with a pressure transducer that publishes its readings over MQTT; adding one here gives it its name and its key.',
    ),
    el('p', {}, 'Without a device you can still begin: add a logger and import a CSV file on its page.'),
  ];
}

interface Entry {
  readonly element: HTMLElement;
  update(logger: LoggerResource, site: SiteResource | undefined): void;
}

/** `named`: loggers of all sites stand in the list, so each says where it is. */
function createEntry(id: string, named: boolean): Entry {
  const state = el('p', {});
  const room = el('p', { class: 'quiet' });
  return {
    element: el(
      'section',
      {},
      el('h2', {}, el('a', { class: 'row-link', href: addressOf({ name: 'logger', loggerId: id }) }, id)),
      state,
      room,
    ),
    update(logger, site) {
      const words = loggerState(logger, Date.now(), site?.timeZone);
      state.textContent = named && site ? `${site.name}, ${words}` : sentence(words);
      room.textContent = logger.bytes > 0 ? roomTaken(logger) : '';
      room.hidden = logger.bytes === 0;
    },
  };
}
