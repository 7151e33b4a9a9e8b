import type { LoggerResource, SiteFindings, SiteResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { siteFindings } from '../data/findings.ts';
import { percent, sentence } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { addressOf } from '../view-state.ts';
import { loggerSentence } from './logger-words.ts';
import { createNewSiteForm } from './new-site-form.ts';
import type { PageContext, PageView } from './page-view.ts';

/** Every site in one paragraph: its name, how its loggers are, what is known so far. */
export function createSitesPage(context: PageContext): PageView {
  const list = el('div', {}, el('p', { class: 'quiet' }, 'Loading the sites.'));
  const add = createNewSiteForm((site) => context.navigate(addressOf({ name: 'new-logger', siteId: site.id })));
  const history = el('p', { class: 'quiet' });
  const element = el('div', {}, el('h1', {}, 'Sites'), history, list, add.element);
  const abort = new AbortController();
  const states = new Map<string, (logger: LoggerResource) => void>();

  async function load(): Promise<void> {
    try {
      const [sites, loggers] = await Promise.all([
        call('listSites', { signal: abort.signal }),
        call('listLoggers', { signal: abort.signal }),
      ]);
      states.clear();
      if (sites.length === 0) {
        replace(list, emptyNote());
        add.open();
        return;
      }
      const entries = sites.map((site) => createSiteEntry(site, loggers, states));
      replace(list, ...entries.map((entry) => entry.element));
      // One after the other: the newest log is worked out first, and a small machine isn't asked for all at once.
      for (const [index, entry] of entries.entries()) {
        if (sites[index]!.first === null) continue;
        try {
          if (abort.signal.aborted) return;
          entry.tell(await findingsOf(sites[index]!));
        } catch (error) {
          if (abort.signal.aborted) return;
          entry.fail(error);
        }
      }
    } catch (error) {
      if (!abort.signal.aborted)
        replace(
          list,
          problemNote(error, () => void load()),
        );
    }
  }
  void load();

  const unsubscribe = context.live.onFrame(async (frame) => {
    if (frame.type === 'progress' && frame.task === 'demo_history') {
      const share = frame.total ? frame.done / frame.total : 0;
      history.textContent = frame.finished ? '' : `The invented history is being written: ${percent(share)}.`;
      if (frame.finished) void load();
    }
    if (frame.type !== 'logger') return;
    const tell = states.get(frame.logger);
    if (!tell) return;
    try {
      tell(await call('getLogger', { params: { id: frame.logger }, signal: abort.signal }));
    } catch {
      // The sentence stays as it was; the next change brings it up to date.
    }
  });

  return {
    element,
    title: () => 'Sites',
    stop() {
      abort.abort();
      unsubscribe();
    },
  };
}

function findingsOf(site: SiteResource): Promise<SiteFindings> {
  return siteFindings(site.id);
}

function emptyNote(): HTMLElement {
  return el(
    'div',
    { class: 'empty' },
    el('p', {}, 'Nothing is kept here yet. A site is a house (or a flat) whose water pressure you want to follow.'),
    el(
      'p',
      {},
      'Add one below; then give it a logger, a small device with a pressure transducer at the stop tap, or import a file that some logger has written.',
    ),
  );
}

function createSiteEntry(
  site: SiteResource,
  loggers: readonly LoggerResource[],
  states: Map<string, (logger: LoggerResource) => void>,
) {
  const here = loggers.filter((logger) => logger.site === site.id);
  const known = el('p', {}, site.first === null ? 'Nothing is logged here yet.' : 'Reading the log …');
  const element = el(
    'section',
    { class: 'site' },
    el('h2', {}, el('a', { class: 'row-link', href: addressOf({ name: 'site', siteId: site.id }) }, site.name)),
    ...(here.length === 0
      ? [
          el(
            'p',
            {},
            'No logger is here. ',
            el('a', { href: addressOf({ name: 'new-logger', siteId: site.id }) }, 'Add one'),
            '.',
          ),
        ]
      : here.map((logger) => {
          const line = el('p', {}, loggerSentence(logger, Date.now(), site.timeZone));
          states.set(logger.id, (changed) => {
            line.textContent = loggerSentence(changed, Date.now(), site.timeZone);
          });
          return line;
        })),
    known,
    site.invented && el('p', { class: 'quiet' }, 'Invented for the demonstration.'),
  );
  return {
    element,
    tell(findings: SiteFindings) {
      const [first] = findings.evidence.statements;
      known.textContent = first ? sentence(first.text) : 'Too little is logged to say anything yet.';
    },
    fail(error: unknown) {
      replace(known, problemNote(error));
    },
  };
}
