import type { SiteResource } from '../../api/contract/payloads.ts';
import { call, fetchFile, routeAddress } from '../data/api-client.ts';
import { bytes, dateAndClock } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { saveFile } from '../parts/save-file.ts';
import { siteLinks } from '../parts/site-links.ts';
import { createSiteTime } from '../site-time.ts';
import { addressOf, type Page, resolveSpan, type Span, timeText } from '../view-state.ts';
import { erasedUntilMs } from './erased-until.ts';
import type { PageContext, PageView } from './page-view.ts';

/** The letter for the supplier: choose the days, read it, keep it as PDF. */
export function createLetterPage(_context: PageContext, page: Extract<Page, { name: 'letter' }>): PageView {
  const { siteId } = page;
  const heading = el('h1', {}, 'Letter');
  const body = el('div', {}, el('p', { class: 'quiet', role: 'status' }, 'Loading.'));
  const element = el('div', {}, heading, siteLinks(siteId, 'letter'), body);
  const abort = new AbortController();

  async function load(): Promise<void> {
    try {
      const [site, loggers] = await Promise.all([
        call('getSite', { params: { id: siteId }, signal: abort.signal }),
        call('listLoggers', { signal: abort.signal }),
      ]);
      heading.textContent = `Letter about ${site.name}`;
      if (site.first === null || site.last === null) {
        replace(
          body,
          el(
            'p',
            {},
            'Nothing is logged here yet, so there is nothing to write about. A letter says most after a week or longer.',
          ),
          el(
            'p',
            {},
            el('a', { class: 'action', href: addressOf({ name: 'site-loggers', siteId }) }, 'Loggers of this site'),
          ),
        );
        return;
      }
      const log = { fromMs: Date.parse(site.first), toMs: Date.parse(site.last) };
      const erasedMs = erasedUntilMs(loggers.filter((logger) => logger.site === siteId));
      replace(body, ...letterChoice(site, log, erasedMs));
    } catch (error) {
      if (!abort.signal.aborted)
        replace(
          body,
          problemNote(error, () => void load()),
        );
    }
  }

  /** `erasedMs`: before it single readings are gone, and with them all that a letter could be made from. */
  function letterChoice(site: SiteResource, log: Span, erasedMs: number | undefined): HTMLElement[] {
    const time = createSiteTime(site.timeZone);
    const asked = page.span
      ? resolveSpan(page.span, Date.now())
      : { ...log, fromMs: Math.max(log.fromMs, erasedMs ?? log.fromMs) };
    const first = el('input', { type: 'date', value: time.parts(asked.fromMs).date });
    const last = el('input', { type: 'date', value: time.parts(asked.toMs - 1).date });
    const problem = el('div');
    const progress = el('p', { class: 'quiet', role: 'status' });
    const html = el('a', { class: 'action wide', target: '_blank', rel: 'noopener' }, 'Read it here');
    const pdf = el('a', { class: 'action main wide', download: `letter-${siteId}.pdf` }, 'Keep it as PDF');

    /** From the start of the first day to the end of the last, by the site's clock. */
    function chosen(): Span | undefined {
      if (!first.value || !last.value || first.value > last.value) return undefined;
      return { fromMs: time.instantOf(first.value, 0, 0), toMs: time.dayOf(time.instantOf(last.value, 12, 0)).endMs };
    }
    function point(): void {
      const span = chosen();
      replace(
        problem,
        span === undefined &&
          el(
            'p',
            { class: 'problem', role: 'alert' },
            'The last day must not lie before the first. Choose the days again.',
          ),
      );
      html.hidden = span === undefined;
      pdf.hidden = span === undefined;
      if (!span) return;
      const query = { from: timeText(span.fromMs), to: timeText(span.toMs) };
      html.href = routeAddress('letter', { id: siteId }, { ...query, format: 'html' });
      pdf.href = routeAddress('letter', { id: siteId }, { ...query, format: 'pdf' });
    }
    async function keep(event: Event): Promise<void> {
      event.preventDefault();
      replace(problem);
      progress.textContent = 'The letter is being made. Weeks of samples take some seconds.';
      try {
        const file = await fetchFile(pdf.href);
        saveFile(file, `letter-${siteId}-${first.value}-to-${last.value}.pdf`);
        progress.textContent = `The letter is made (${bytes(file.size)}) and is among your downloads.`;
      } catch (error) {
        progress.textContent = '';
        replace(problem, problemNote(error));
      }
    }
    first.addEventListener('change', point);
    last.addEventListener('change', point);
    pdf.addEventListener('click', (event) => void keep(event));
    html.addEventListener('click', () => {
      progress.textContent = 'It opens beside this page; weeks of samples take some seconds.';
    });
    point();
    return [
      el(
        'p',
        {},
        `The log runs from ${dateAndClock(log.fromMs, time)} to ${dateAndClock(log.toMs, time)} (${site.timeZone}). Choose the days that the letter is about; at first that is all of it${erasedMs === undefined ? '' : ' that is left'}.`,
      ),
      ...(erasedMs === undefined
        ? []
        : [
            el(
              'p',
              {},
              `Single readings from before ${dateAndClock(erasedMs, time)} were erased by age, as this site is set: a letter can’t say anything of that time.`,
            ),
          ]),
      el('div', { class: 'fields' }, field(first, { label: 'First day' }), field(last, { label: 'Last day' })),
      problem,
      el('p', { class: 'buttons' }, pdf, html),
      progress,
      el('h2', {}, 'What is in it'),
      el(
        'ul',
        {},
        el(
          'li',
          {},
          'What was found, in sentences with times, lowest pressures and how certain each is; the household’s own draws are left out.',
        ),
        el('li', {}, 'Pictures of the days, drawn from the same figures as this page.'),
        el(
          'li',
          {},
          'How it was measured: position and height of the logger, its range, calibration and uncertainty, and what is missing.',
        ),
        el('li', {}, 'The rule that was asked, with its source, and how it was read.'),
      ),
      el('h2', {}, 'Before you send it'),
      el(
        'ul',
        {},
        el('li', {}, 'Read it. It speaks in your name, and it names the property as you named the site.'),
        el(
          'li',
          {},
          'Compare the logger with a gauge first, if you can: without that a cheap transducer can often say only “possible”.',
        ),
        el(
          'li',
          {},
          'It is a record of measurements, not legal or plumbing advice. What a supplier owes depends on the rules where you live.',
        ),
        el(
          'li',
          {},
          'A constant leak or a cistern that never shuts lowers the pressure as a weak street does. Read the meter with the stop tap shut, and say what it showed.',
        ),
      ),
      ...(site.invented
        ? [el('p', { class: 'quiet' }, 'This property is invented: its letter is for looking at, not for sending.')]
        : []),
    ];
  }

  void load();
  return { element, title: () => heading.textContent ?? '', stop: () => abort.abort() };
}
