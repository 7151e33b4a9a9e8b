import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { findingCounts, sameCounts } from '../../api/contract/finding-counts.ts';
import type { LoggerResource, SeriesResponse } from '../../api/contract/payloads.ts';
import { type ChartColumns, plainColumns, pressureColumns, pressureRange } from '../chart/chart-data.ts';
import { createChartLegend } from '../chart/chart-legend.ts';
import { marksIn } from '../chart/chart-marks.ts';
import { erasedPart } from '../chart/erased-words.ts';
import { createFindingList } from '../chart/finding-list.ts';
import { accountsIn, type FindingAccount, findingAccounts } from '../chart/finding-words.ts';
import { createPressureChart } from '../chart/pressure-chart.ts';
import { readingsAt } from '../chart/readings-at.ts';
import { createSpanButtons } from '../chart/span-buttons.ts';
import { call } from '../data/api-client.ts';
import { type ChartSeries, createSeriesLoader, withFrame } from '../data/chart-series.ts';
import { loggerFindings } from '../data/findings.ts';
import { bar, clockRange, clockWithSeconds, duration, spanInWords } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { loggerLinks } from '../parts/logger-links.ts';
import { problemNote } from '../parts/problem-note.ts';
import { siteLinks } from '../parts/site-links.ts';
import { createSiteTime, type SiteTime } from '../site-time.ts';
import {
  addressOf,
  isMoving,
  keepNear,
  type Page,
  resolveSpan,
  type Span,
  type SpanChoice,
  timeText,
} from '../view-state.ts';
import type { PageContext, PageView } from './page-view.ts';

type ChartPage = Extract<Page, { name: 'chart' }>;

/** Without a span in the address: the last week of the log, or all of it where it is shorter. */
const DEFAULT_SPAN_MS = 7 * 86_400_000;
/** The picture follows new samples four times a second at most; with reduced motion every ten seconds. */
const LIVE_DRAW_MS = matchMedia('(prefers-reduced-motion: reduce)').matches ? 10_000 : 250;

/** The full chart of any span, from a year to seconds, with its findings beneath it. */
export function createChartPage(context: PageContext, first: ChartPage): PageView {
  const { siteId } = first;
  const heading = el('h1', {}, 'Chart');
  const status = el('p', { class: 'quiet', role: 'status' }, 'Loading the chart.');
  const readout = el('p', { class: 'readout quiet' });
  const problems = el('div', {});
  const legend = createChartLegend();
  const chart = createPressureChart({ onSpan: moveTo, onPoint: tellPoint });
  chart.element.tabIndex = 0;
  chart.element.setAttribute('role', 'group');
  const buttons = createSpanButtons((choice) => goTo(choice));
  const list = createFindingList({
    addressOf: (key) => address(page.span, key),
    onOpen: (account) => context.navigate(address(page.span, account?.key), 'replace'),
    samplesOf: (account) => samplesOf(account),
  });
  const choice = el('div', {});
  const drawing = el('div', { hidden: true }, chart.element, readout, buttons.element, legend.element, list.element);
  const element = el('div', {}, heading, siteLinks(siteId, 'chart'), choice, status, problems, drawing);

  let page: ChartPage = first;
  let time: SiteTime | undefined;
  let logger: LoggerResource | undefined;
  let log: Span | undefined;
  let findings: FindingsDocument | undefined;
  let allAccounts: readonly FindingAccount[] = [];
  let span: Span | undefined;
  let loading = false;
  let shown: ChartSeries | undefined;
  let pressure: ChartColumns | undefined;
  const loader = createSeriesLoader();
  let drawTimer: ReturnType<typeof setTimeout> | undefined;
  let slideTimer: ReturnType<typeof setInterval> | undefined;
  const abort = new AbortController();

  const address = (chosen: SpanChoice | undefined, finding?: string) =>
    addressOf({ name: 'chart', siteId, loggerId: page.loggerId, span: chosen, finding });
  const goTo = (chosen: SpanChoice) => context.navigate(address(chosen, page.finding));

  async function load(): Promise<void> {
    try {
      const [site, loggers] = await Promise.all([
        call('getSite', { params: { id: siteId }, signal: abort.signal }),
        call('listLoggers', { signal: abort.signal }),
      ]);
      time = createSiteTime(site.timeZone);
      heading.textContent = `Chart of ${site.name}`;
      const here = loggers.filter((candidate) => candidate.site === siteId);
      logger =
        here.find((candidate) => candidate.id === page.loggerId) ??
        here.find((candidate) => candidate.position === 'incoming') ??
        here[0];
      replace(choice, loggerLinks(siteId, here, logger?.id, page.span));
      const extent = logger?.extents.find((candidate) => candidate.channel === 'pressure') ?? logger?.extents[0];
      if (!logger || !extent) {
        replace(
          status,
          'Nothing is logged here yet, so there is nothing to draw. ',
          el('a', { href: addressOf({ name: 'site-loggers', siteId }) }, 'See the loggers of this site'),
          '.',
        );
        return;
      }
      log = {
        fromMs: Date.parse(extent.first),
        toMs: Math.max(Date.parse(extent.last), Date.parse(extent.first) + 60_000),
      };
      drawing.hidden = false;
      applySpan();
      await loadFindings();
    } catch (error) {
      if (!abort.signal.aborted)
        replace(
          problems,
          problemNote(error, () => void load()),
        );
    }
  }

  async function loadFindings(newer?: 'newer'): Promise<void> {
    if (!logger || !log || !time) return;
    context.live.follow({ logger: logger.id });
    const made = await loggerFindings(logger.id, newer);
    if (abort.signal.aborted) return;
    findings = made;
    allAccounts = findingAccounts(made, time);
    draw();
  }

  /** Makes the span that the address asks for the one that is shown. */
  function applySpan(): void {
    if (!log) return;
    clearInterval(slideTimer);
    const fallback = { fromMs: Math.max(log.fromMs, log.toMs - DEFAULT_SPAN_MS), toMs: log.toMs };
    span = page.span ? resolveSpan(page.span, Date.now()) : fallback;
    if (page.span && isMoving(page.span)) {
      const moving = page.span;
      slideTimer = setInterval(
        () => {
          span = resolveSpan(moving, Date.now());
          askToDraw();
        },
        Math.max(LIVE_DRAW_MS, moving.lastMs / 1000),
      );
    }
    void fetchSeries(span);
    if (shown) draw();
  }

  /** Fetches what a span needs; the old picture stays until the new one is there. */
  async function fetchSeries(wanted: Span): Promise<void> {
    if (!logger || !time) return;
    loading = true;
    status.textContent = `Loading ${spanInWords(wanted.fromMs, wanted.toMs, time)} …`;
    try {
      const series = await loader.load(logger, wanted, chart.element.clientWidth);
      if (!series) return;
      loading = false;
      shown = series;
      replace(problems);
      draw();
    } catch (error) {
      loading = false;
      status.textContent = 'The readings of this span could not be loaded; the picture is the last one that could.';
      replace(
        problems,
        problemNote(error, () => void fetchSeries(wanted)),
      );
    }
  }

  function draw(): void {
    if (!shown || !span || !time) return;
    const site = time;
    const series = shown.pressure;
    const around = {
      fromMs: span.fromMs - (span.toMs - span.fromMs) / 4,
      toMs: span.toMs + (span.toMs - span.fromMs) / 4,
    };
    const width = chart.element.clientWidth;
    pressure = pressureColumns(series, findings, around, width * 1.5);
    const accounts = accountsIn(allAccounts, span);
    const open = page.finding === undefined ? undefined : allAccounts.find((account) => account.key === page.finding);
    const interval = findings?.series.intervalS ?? null;
    chart.update({
      span,
      time,
      pressure,
      pressureRangeBar: pressureRange(pressure, (findings?.thresholds.lowSupplyBar ?? 0.7) * 1.3),
      flow: shown.flow && plainColumns(shown.flow, interval),
      pump: shown.pump && plainColumns(shown.pump, interval),
      raw: series.stepMs === null,
      marks: {
        ...marksIn(findings, span, time, (fromMs, toMs) => clockRange(fromMs, toMs, site), open),
        newest: page.span && isMoving(page.span) ? newestOf(series) : undefined,
      },
    });
    legend.update({ findings, hasFlow: shown.flow !== undefined, hasPump: shown.pump !== undefined });
    buttons.update({ span, choice: page.span, log, time });
    tellReadout();
    list.update({ accounts, open, time, ready: findings !== undefined, erased: erasedPart(findings, span, time) });
    const words = spanInWords(span.fromMs, span.toMs, time);
    const moving = page.span && isMoving(page.span) ? ' Live: new samples appear as they come.' : '';
    const resolution =
      series.stepMs === null
        ? 'every sample'
        : `the grey band is the lowest and the highest of each ${duration(series.stepMs)}`;
    const text = `${words}, ${time.timeZone}; ${resolution}.${series.time.length === 0 ? ' Nothing was logged in it.' : ''}${findings ? '' : ' The findings are still being worked out.'}${moving}`;
    if (!loading && status.textContent !== text) status.textContent = text;
    chart.element.setAttribute(
      'aria-label',
      `Chart of pressure, ${words}. Arrow keys move along, plus and minus zoom. The findings below tell what is in it.`,
    );
  }

  function moveTo(next: Span, settled: boolean): void {
    if (!log) return;
    span = keepNear(next, { fromMs: log.fromMs, toMs: Math.max(log.toMs, Date.now()) });
    if (settled) context.navigate(address(span, page.finding), 'replace');
  }

  let pointMs: number | undefined;
  function tellPoint(atMs: number | undefined): void {
    pointMs = atMs;
    tellReadout();
  }

  /** What is under the pointer; without one, the newest sample while the chart follows it. */
  function tellReadout(): void {
    const newest = page.span && isMoving(page.span) && shown && newestOf(shown.pressure);
    if (!time || !pressure) readout.textContent = '';
    else if (pointMs !== undefined)
      readout.textContent = readingsAt(pointMs, pressure, findings?.standing !== undefined, time);
    else readout.textContent = newest ? `Newest: ${bar(newest.bar, 3)} at ${clockWithSeconds(newest.atMs, time)}.` : '';
  }

  async function samplesOf(account: FindingAccount): Promise<SeriesResponse> {
    const pad = Math.max(5_000, (account.toMs - account.fromMs) * 0.1);
    return call('series', {
      params: { id: logger!.id },
      query: {
        channel: 'pressure',
        from: timeText(Math.round(account.fromMs - pad)),
        to: timeText(Math.round(account.toMs + pad)),
        points: 60,
      },
      signal: abort.signal,
    });
  }

  function askToDraw(): void {
    drawTimer ??= setTimeout(() => {
      drawTimer = undefined;
      draw();
    }, LIVE_DRAW_MS);
  }

  const unsubscribe = context.live.onFrame((frame) => {
    if (frame.type === 'missed' && span) void fetchSeries(span);
    if (frame.type === 'findings' && frame.logger === logger?.id && findings)
      if (!sameCounts(frame.counts, findingCounts(findings)))
        // A failed round is made good by the next one; what is shown stays.
        void loadFindings('newer').catch(() => undefined);
    const next = shown && logger && withFrame(shown, logger.id, frame);
    if (!next) return;
    shown = next;
    const newest = newestOf(next.pressure);
    if (log && newest) log = { fromMs: log.fromMs, toMs: Math.max(log.toMs, newest.atMs) };
    askToDraw();
  });

  void load();
  return {
    element,
    title: () => heading.textContent ?? '',
    follow(next) {
      if (next.name !== 'chart' || next.siteId !== siteId || next.loggerId !== page.loggerId) return false;
      const sameSpan = JSON.stringify(next.span) === JSON.stringify(page.span);
      page = next;
      if (sameSpan) draw();
      else applySpan();
      return true;
    },
    stop() {
      abort.abort();
      loader.stop();
      clearTimeout(drawTimer);
      clearInterval(slideTimer);
      context.live.follow(undefined);
      unsubscribe();
      chart.destroy();
    },
  };
}

function newestOf(series: SeriesResponse): { atMs: number; bar: number } | undefined {
  const last = series.time.length - 1;
  return last < 0 ? undefined : { atMs: series.time[last]! + (series.stepMs ?? 0) / 2, bar: series.mean[last]! };
}
