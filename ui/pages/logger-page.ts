import type { AboutResponse, LoggerResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { ago, largeNumber, sentence, uncertaintyBar, valueWithUnit } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { addressOf } from '../view-state.ts';
import { createCalibrationForm } from './calibration-form.ts';
import { clockSentence } from './clock-sentence.ts';
import { connectGuide } from './connect-guide.ts';
import { createCsvImport } from './csv-import.ts';
import { createFirstSample } from './first-sample.ts';
import { createKeyRenewal } from './key-renewal.ts';
import { createLoggerRecord } from './logger-record.ts';
import { createLoggerSettings, type LoggerForm } from './logger-settings.ts';
import { placeWords, sampleWords, shortState } from './logger-words.ts';
import { createMappingForm } from './mapping-form.ts';
import type { PageContext, PageView } from './page-view.ts';
import { createRefusalList } from './refusal-list.ts';

/** One logger: how it is, its last value, what was refused, and everything one can do with it. */
export function createLoggerPage(context: PageContext, loggerId: string): PageView {
  const state = el('p', { role: 'status' }, 'Loading.');
  const last = el('p', {});
  const first = el('div', {});
  const refused = el('div', {});
  const record = createLoggerRecord(loggerId);
  const links = el('p', { class: 'buttons' });
  const uncertainty = el('p', {});
  const guide = el('details', {});
  const clock = el('p', {});
  const body = el('div', {});
  const element = el('div', {}, el('h1', {}, loggerId), state, last, first, refused, body);
  const abort = new AbortController();
  const { signal } = abort;
  let stopWaiting = () => {};
  let timeZone: string | undefined;
  let forms: readonly LoggerForm[] = [];

  async function load(): Promise<void> {
    try {
      const logger = await bringUpToDate();
      if (!logger.lastSample) {
        const waiting = createFirstSample(context, loggerId, logger.site ?? undefined, () => void showSaved());
        stopWaiting();
        stopWaiting = waiting.stop;
        replace(first, waiting.element);
      } else replace(first);
      await showRefusals(logger);
    } catch (error) {
      if (signal.aborted) return;
      forms = [];
      replace(
        body,
        problemNote(error, () => void load()),
      );
    }
  }

  async function bringUpToDate(): Promise<LoggerResource> {
    const [logger, about] = await Promise.all([
      call('getLogger', { params: { id: loggerId }, signal }),
      call('about', { signal }),
    ]);
    if (logger.site !== null) timeZone = (await call('getSite', { params: { id: logger.site }, signal })).timeZone;
    showState(logger);
    showBody(logger, about);
    return logger;
  }

  function showState(logger: LoggerResource): void {
    const calibrated =
      logger.sensorUBar === null ? '' : logger.calibrated ? ' It was compared with a gauge.' : ' It is not calibrated.';
    state.textContent = `${sentence(`${placeWords(logger)}: ${shortState(logger, timeZone)}`)}${calibrated}`;
    if (logger.lastSample)
      last.textContent = `Last value: ${sampleWords(logger.lastSample)}, ${ago(Date.parse(logger.lastSample.time), Date.now())}.`;
  }

  async function showRefusals(logger: LoggerResource): Promise<void> {
    if (logger.refused === 0) return;
    const list = createRefusalList();
    list.update(await call('loggerRefusals', { params: { id: loggerId }, signal }));
    replace(
      refused,
      el('h2', {}, 'Refused'),
      el(
        'p',
        {},
        `${largeNumber(logger.refused)} ${logger.refused === 1 ? 'entry' : 'entries'} couldn’t be read and ${logger.refused === 1 ? 'was' : 'were'} not stored. The newest first:`,
      ),
      list.element,
    );
  }

  /** Made once; afterwards only brought up to date, so that nothing that is being typed is lost. */
  function showBody(logger: LoggerResource, about: AboutResponse): void {
    record.update(logger, about, timeZone);
    uncertainty.textContent = uncertaintyWords(logger);
    replace(guide, el('summary', {}, 'Broker, topic and a command to try'), connectGuide(logger, about, undefined));
    clock.textContent = clockSentence(logger, timeZone);
    replace(
      links,
      logger.site !== null &&
        el('a', { class: 'action', href: addressOf({ name: 'site', siteId: logger.site }) }, 'Diary of its site'),
      logger.site !== null &&
        el('a', { class: 'action', href: addressOf({ name: 'chart', siteId: logger.site, loggerId }) }, 'Its chart'),
    );
    if (forms.length > 0) {
      for (const form of forms) form.update(logger);
      return;
    }
    const comparison = createCalibrationForm(logger, () => void showSaved());
    const mapping = createMappingForm(logger, timeZone, () => void showSaved());
    const settings = createLoggerSettings(logger, {
      onSaved: () => void showSaved(),
      onHidden: () => context.navigate('/loggers'),
    });
    forms = [comparison, mapping, settings];
    replace(
      body,
      links,
      el('h2', {}, 'Compare it with a gauge'),
      uncertainty,
      comparison.element,
      el('h2', {}, 'Import a file'),
      createCsvImport(context, logger),
      el('h2', {}, 'Take its samples along'),
      record.element,
      el('h2', {}, 'How it connects'),
      guide,
      mapping.element,
      createKeyRenewal(loggerId),
      el('h2', {}, 'Its clock'),
      clock,
      el('h2', {}, 'Settings'),
      settings.element,
    );
  }

  /** Something of it was saved, here or on another page. */
  async function showSaved(): Promise<void> {
    try {
      await bringUpToDate();
    } catch {
      // What stands stays; the page's next load brings it up to date.
    }
  }

  void load();
  const unsubscribe = context.live.onFrame(async (frame) => {
    if (frame.type === 'samples') {
      const piece = frame.series.filter((candidate) => candidate.logger === loggerId);
      const newest = piece.find((candidate) => candidate.channel === 'pressure') ?? piece[0];
      if (newest && newest.value.length > 0)
        last.textContent = `Last value: ${valueWithUnit(newest.value.at(-1)!, newest.unit)}, just now.`;
    } else if (frame.type === 'changed' && frame.what === 'logger' && frame.id === loggerId) {
      void showSaved();
    } else if (frame.type === 'logger' && frame.logger === loggerId) {
      try {
        showState(await call('getLogger', { params: { id: loggerId }, signal }));
      } catch {
        // The sentence stays; the next change brings it up to date.
      }
    }
  });
  return {
    element,
    title: () => loggerId,
    stop() {
      abort.abort();
      stopWaiting();
      unsubscribe();
    },
  };
}

function uncertaintyWords({ sensorUBar, calibrated }: LoggerResource): string {
  if (sensorUBar === null) return '';
  const more = calibrated ? '' : ' A comparison with a gauge makes it better, and lets more be called certain.';
  return `A reading is good to ${uncertaintyBar(sensorUBar)} from the sensor alone (k = 2).${more}`;
}
