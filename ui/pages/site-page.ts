import type { Evidence } from '../../api/analysis/findings.ts';
import { findingCounts, sameCounts } from '../../api/contract/finding-counts.ts';
import type { FindingsFrame } from '../../api/contract/live-frames.ts';
import type { LoggerResource, SeriesResponse, SiteFindings, SiteResource } from '../../api/contract/payloads.ts';
import { call, seriesColumns } from '../data/api-client.ts';
import { siteFindings } from '../data/findings.ts';
import { type DayEntry, dayEntries } from '../diary/day-entries.ts';
import { createDayList } from '../diary/day-list.ts';
import { createKnownSoFar } from '../diary/known-so-far.ts';
import { createSpanStrip } from '../diary/span-strip.ts';
import { commonScaleBar } from '../diary/strip-data.ts';
import { dateAndClock } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { siteLinks } from '../parts/site-links.ts';
import { createPatternSection } from '../pattern/pattern-section.ts';
import { createSiteTime } from '../site-time.ts';
import { POSITION_WORDS } from '../terms.ts';
import { addressOf, timeText } from '../view-state.ts';
import { erasedInDiary, erasedUntilMs } from './erased-until.ts';
import { loggerSentence } from './logger-words.ts';
import type { PageContext, PageView } from './page-view.ts';
import { createSiteForms } from './site-forms.ts';
import type { SiteForm } from './site-settings.ts';

/** Days shown at first and with every "earlier days": two weeks, what a thumb scrolls through without a pause. */
const DAYS_AT_A_TIME = 14;
/** What one request of five-minute buckets may bring. */
const MOST_DAYS_AT_A_TIME = 56;
/** Buckets of five minutes: finer than a strip's pixels on a phone, and one request for all days at once. */
const BUCKETS_A_DAY = 288;

/** A site's diary: what is known so far, the whole log as a strip, the days newest first. */
export function createSitePage(context: PageContext, siteId: string): PageView {
  const heading = el('h1', {}, 'Diary');
  const states = el('div', {});
  const body = el(
    'div',
    {},
    el('p', { class: 'quiet', role: 'status' }, 'Reading the log … With weeks of samples this takes some seconds.'),
  );
  const settings = el('div', {});
  const element = el('div', {}, heading, siteLinks(siteId, 'site'), states, body, settings);
  const abort = new AbortController();
  const { signal } = abort;
  let watch: ResizeObserver | undefined;
  let timeZone: string | undefined;
  let forms: SiteForm | undefined;
  let daysShown = DAYS_AT_A_TIME;
  /** What stands there; undefined before the first diary. */
  let diary:
    | { findings: SiteFindings; known(evidence: Evidence): void; renew(findings: SiteFindings): void }
    | undefined;

  async function load(): Promise<void> {
    try {
      const [site, loggers] = await Promise.all([
        call('getSite', { params: { id: siteId }, signal }),
        call('listLoggers', { signal }),
      ]);
      timeZone = site.timeZone;
      const here = loggers.filter((logger) => logger.site === siteId);
      showStates(here);
      showForms(site);
      if (site.first === null) {
        replace(body, emptyNote(site, here));
        return;
      }
      const findings = await siteFindings(siteId);
      if (!signal.aborted) showDiary(site, findings, erasedUntilMs(here.filter(({ id }) => id === findings.logger)));
    } catch (error) {
      if (!signal.aborted)
        replace(
          body,
          problemNote(error, () => void load()),
        );
    }
  }

  /** Made once: what is typed in them outlives every reload of the diary above. */
  function showForms(site: SiteResource): void {
    heading.textContent = site.name;
    if (forms) {
      forms.update(site);
      return;
    }
    forms = createSiteForms(site, { onSaved: () => void load(), onHidden: () => context.navigate('/') });
    replace(settings, forms.element);
  }

  function showStates(loggers: readonly LoggerResource[]): void {
    replace(
      states,
      ...loggers.map((logger) =>
        el(
          'p',
          {},
          el(
            'a',
            { class: 'row-link', href: addressOf({ name: 'logger', loggerId: logger.id }) },
            loggerSentence(logger, Date.now(), timeZone),
          ),
        ),
      ),
    );
  }

  function showDiary(site: SiteResource, first: SiteFindings, erasedMs: number | undefined): void {
    const time = createSiteTime(site.timeZone);
    const known = createKnownSoFar();
    let findings = first;
    known.update(findings);
    let entries = dayEntries(findings, time);
    diary = undefined;
    const start = findings.series.start;
    const end = findings.series.end;
    if (start === null || end === null || entries.length === 0) {
      replace(body, known.element, emptyNote(site, []));
      return;
    }
    let log = logSpan(start, end);
    const logWords = el('p', { class: 'quiet' });
    const wholeLink = el('a', { class: 'action' }, 'Open the whole log');
    const showLog = () => {
      logWords.textContent = `${dateAndClock(log.fromMs, time)} to ${dateAndClock(log.toMs, time)}, ${time.timeZone}.`;
      wholeLink.setAttribute('href', addressOf({ name: 'chart', siteId, span: log }));
    };
    showLog();
    const spanStrip = createSpanStrip((span) => context.navigate(addressOf({ name: 'chart', siteId, span })));
    const list = createDayList();
    const pattern = createPatternSection();
    const problems = el('div', {});
    const earlier = el('button', { type: 'button', class: 'wide' }, 'Earlier days');
    const seriesByDate = new Map<string, SeriesResponse>();
    const scaleBar = commonScaleBar(findings, undefined);
    let scale = scaleBar;
    let shown = 0;
    let whole: SeriesResponse | undefined;
    let drawnWidth = 0;

    const draw = () => {
      const width = Math.max(240, Math.floor(body.clientWidth));
      drawnWidth = width;
      spanStrip.update({ log, findings, series: whole, scaleBar: scale, time, width });
      list.update({
        siteId,
        findings,
        entries: entries.slice(0, shown),
        seriesOf: (date) => seriesByDate.get(date),
        scaleBar: scale,
        time,
        width,
      });
      pattern.update({ findings, width });
      earlier.hidden = shown >= entries.length;
    };
    const more = async (days: number) => {
      const batch = entries.slice(shown, shown + days);
      shown += batch.length;
      daysShown = Math.min(Math.max(shown, DAYS_AT_A_TIME), MOST_DAYS_AT_A_TIME);
      draw();
      try {
        const series = await readings(findings.logger, batch);
        if (!series) return;
        for (const entry of batch) seriesByDate.set(entry.day.date, series);
        if (!findings.standing) scale = Math.max(scale, commonScaleBar(findings, series));
        draw();
      } catch (error) {
        if (!signal.aborted) replace(problems, problemNote(error));
      }
    };
    const wholeLog = async (loggerId: string) => {
      try {
        const query = {
          channel: 'pressure' as const,
          from: timeText(log.fromMs),
          to: timeText(log.toMs),
          points: 2000,
        };
        whole = await seriesColumns(loggerId, query, signal);
        draw();
      } catch (error) {
        if (!signal.aborted) replace(problems, problemNote(error));
      }
    };
    earlier.addEventListener('click', () => void more(DAYS_AT_A_TIME));

    replace(
      body,
      known.element,
      el(
        'section',
        { 'aria-labelledby': 'span' },
        el('h2', { id: 'span' }, 'The whole log'),
        logWords,
        erasedMs !== undefined && el('p', { class: 'quiet' }, erasedInDiary(erasedMs, time)),
        spanStrip.element,
        el(
          'p',
          { class: 'buttons' },
          wholeLink,
          el(
            'a',
            { class: 'action', href: addressOf({ name: 'chart', siteId, span: { lastMs: 600_000 } }) },
            'Watch it live',
          ),
          findings.pattern && el('button', { type: 'button', click: () => pattern.read() }, 'How the week goes'),
        ),
      ),
      otherLoggers(findings),
      list.element,
      problems,
      el('p', {}, earlier),
      pattern.element,
    );
    watch?.disconnect();
    watch = new ResizeObserver(() => {
      if (Math.abs(body.clientWidth - drawnWidth) > 1) draw();
    });
    watch.observe(body);
    /** The same diary, with what came since: nothing that is read or typed moves away. */
    const renew = (newer: SiteFindings) => {
      const added = dayEntries(newer, time);
      if (newer.series.start === null || newer.series.end === null || added.length === 0) return;
      shown = Math.max(DAYS_AT_A_TIME, shown + added.length - entries.length);
      findings = newer;
      entries = added;
      log = logSpan(newer.series.start, newer.series.end);
      known.update(findings);
      showLog();
      draw();
      void newestReadings();
    };
    const newestReadings = async () => {
      const batch = entries.slice(0, 1);
      try {
        const series = await readings(findings.logger, batch);
        if (!series) return;
        for (const entry of batch) seriesByDate.set(entry.day.date, series);
        draw();
      } catch {
        // The strip stays as it was; the next answer brings it up to date.
      }
    };
    diary = {
      findings,
      known: (evidence) => known.update({ ...findings, evidence }),
      renew,
    };
    void more(daysShown);
    if (!findings.standing && findings.logger !== null) void wholeLog(findings.logger);
  }

  async function readings(loggerId: string | null, batch: readonly DayEntry[]): Promise<SeriesResponse | undefined> {
    const newest = batch[0];
    const oldest = batch.at(-1);
    if (!newest || !oldest || loggerId === null) return undefined;
    const span = { from: timeText(oldest.day.startMs), to: timeText(newest.day.endMs) };
    return seriesColumns(loggerId, { channel: 'pressure', ...span, points: batch.length * BUCKETS_A_DAY }, signal);
  }

  function otherLoggers(findings: SiteFindings): HTMLElement {
    return el(
      'div',
      {},
      ...findings.others.map((other) =>
        el(
          'p',
          {},
          el(
            'a',
            { class: 'row-link', href: addressOf({ name: 'chart', siteId, loggerId: other.logger }) },
            `Chart of ${other.logger}, ${POSITION_WORDS[other.series.position]}`,
          ),
        ),
      ),
    );
  }

  /** Another page saved something of this site, or this one did. */
  async function showSaved(): Promise<void> {
    try {
      showForms(await call('getSite', { params: { id: siteId }, signal }));
    } catch {
      // What stands stays; saving fetches what is saved by then.
    }
  }

  /** More can be said than a while ago: at once in words, and once something new was found, in the days too. */
  async function showNewer(frame: FindingsFrame): Promise<void> {
    if (!diary) {
      // So far there was nothing to tell.
      await load();
      return;
    }
    diary.known(frame.evidence);
    if (sameCounts(frame.counts, findingCounts(diary.findings)) && frame.logger === diary.findings.logger) return;
    try {
      const newer = await siteFindings(siteId, 'newer');
      if (signal.aborted) return;
      diary.findings = newer;
      diary.renew(newer);
    } catch {
      // What stands stays; the next frame brings it up to date.
    }
  }

  void load();
  context.live.follow({ site: siteId });
  const unsubscribe = context.live.onFrame(async (frame) => {
    if (frame.type === 'findings' && 'site' in frame.of && frame.of.site === siteId) {
      await showNewer(frame);
      return;
    }
    if (frame.type === 'changed' && frame.what === 'site' && frame.id === siteId) {
      await showSaved();
      return;
    }
    if (frame.type !== 'logger' && !(frame.type === 'changed' && frame.what === 'logger')) return;
    try {
      const loggers = await call('listLoggers', { signal });
      showStates(loggers.filter((logger) => logger.site === siteId));
    } catch {
      // The sentences stay as they were; the next change brings them up to date.
    }
  });

  return {
    element,
    title: () => heading.textContent ?? '',
    stop() {
      abort.abort();
      watch?.disconnect();
      context.live.follow(undefined);
      unsubscribe();
    },
  };
}

function logSpan(start: string, end: string): { readonly fromMs: number; readonly toMs: number } {
  const fromMs = Date.parse(start);
  return { fromMs, toMs: Math.max(Date.parse(end), fromMs + 60_000) };
}

function emptyNote(site: SiteResource, loggers: readonly LoggerResource[]): HTMLElement {
  const next = loggers[0];
  return el(
    'div',
    { class: 'empty' },
    el('p', {}, `Nothing is logged at ${site.name} yet.`),
    next
      ? el(
          'p',
          {},
          `${next.id} is waiting for its first sample. Its page says how to send one, and takes a file that a logger has written. `,
        )
      : el('p', {}, 'The next step is a logger: a small device with a pressure transducer at the stop tap.'),
    el(
      'p',
      {},
      next
        ? el(
            'a',
            { class: 'action main wide', href: addressOf({ name: 'logger', loggerId: next.id }) },
            `To ${next.id}`,
          )
        : el(
            'a',
            { class: 'action main wide', href: addressOf({ name: 'new-logger', siteId: site.id }) },
            'Add a logger',
          ),
    ),
  );
}
