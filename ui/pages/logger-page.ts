import type { AboutResponse, LoggerResource } from '../../api/contract/payloads.ts';
import { call, samplesCsv } from '../data/api-client.ts';
import { ago, bytes, dateAndClock, largeNumber, sentence, uncertaintyBar, valueWithUnit } from '../format.ts';
import { copyLine } from '../parts/copy-button.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { saveFile } from '../parts/save-file.ts';
import { createSiteTime } from '../site-time.ts';
import { addressOf } from '../view-state.ts';
import { createCalibrationForm } from './calibration-form.ts';
import { clockSentence } from './clock-sentence.ts';
import { connectGuide } from './connect-guide.ts';
import { createCsvImport } from './csv-import.ts';
import { erasedUntilMs } from './erased-until.ts';
import { createFirstSample } from './first-sample.ts';
import { createLoggerSettings } from './logger-settings.ts';
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
  const record = el('div', {});
  const body = el('div', {});
  const element = el('div', {}, el('h1', {}, loggerId), state, last, first, refused, body);
  const abort = new AbortController();
  const { signal } = abort;
  let stopWaiting = () => {};
  let timeZone: string | undefined;

  async function load(): Promise<void> {
    try {
      const [logger, about] = await Promise.all([
        call('getLogger', { params: { id: loggerId }, signal }),
        call('about', { signal }),
      ]);
      if (logger.site !== null) timeZone = (await call('getSite', { params: { id: logger.site }, signal })).timeZone;
      showState(logger);
      showBody(logger, about);
      if (!logger.lastSample) {
        const waiting = createFirstSample(context, loggerId, logger.site ?? undefined, () => void loadRecord());
        stopWaiting();
        stopWaiting = waiting.stop;
        replace(first, waiting.element);
      } else replace(first);
      await showRefusals(logger);
    } catch (error) {
      if (!signal.aborted)
        replace(
          body,
          problemNote(error, () => void load()),
        );
    }
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

  function showBody(logger: LoggerResource, about: AboutResponse): void {
    const uncertainty =
      logger.sensorUBar === null
        ? undefined
        : `A reading is good to ${uncertaintyBar(logger.sensorUBar)} from the sensor alone (k = 2).${logger.calibrated ? '' : ' A comparison with a gauge makes it better, and lets more be called certain.'}`;
    showRecord(logger, about);
    replace(
      body,
      el(
        'p',
        { class: 'buttons' },
        logger.site !== null &&
          el('a', { class: 'action', href: addressOf({ name: 'site', siteId: logger.site }) }, 'Diary of its site'),
        logger.site !== null &&
          el('a', { class: 'action', href: addressOf({ name: 'chart', siteId: logger.site, loggerId }) }, 'Its chart'),
      ),
      el('h2', {}, 'Compare it with a gauge'),
      uncertainty !== undefined && el('p', {}, uncertainty),
      createCalibrationForm(logger, () => void load()),
      el('h2', {}, 'Import a file'),
      createCsvImport(context, logger),
      el('h2', {}, 'Take its samples along'),
      record,
      el('h2', {}, 'How it connects'),
      el(
        'details',
        {},
        el('summary', {}, 'Broker, topic and a command to try'),
        connectGuide(logger, about, undefined),
      ),
      createMappingForm(logger, timeZone, () => void load()),
      renewal(),
      el('h2', {}, 'Its clock'),
      el('p', {}, clockSentence(logger, timeZone)),
      el('h2', {}, 'Settings'),
      createLoggerSettings(logger, { onSaved: () => void load(), onHidden: () => context.navigate('/loggers') }),
    );
  }

  /** Only this part, so that nothing that is being typed elsewhere on the page is lost. */
  async function loadRecord(): Promise<void> {
    try {
      const [logger, about] = await Promise.all([
        call('getLogger', { params: { id: loggerId }, signal }),
        call('about', { signal }),
      ]);
      showRecord(logger, about);
    } catch {
      // What stood there stays; the page's next load brings it up to date.
    }
  }

  function showRecord(logger: LoggerResource, about: AboutResponse): void {
    replace(record, downloads(logger), el('p', { class: 'quiet' }, roomWords(logger, about)));
  }

  function downloads(logger: LoggerResource): HTMLElement {
    const status = el('p', { class: 'quiet', role: 'status' });
    const erasedMs = erasedUntilMs([logger]);
    const time = createSiteTime(timeZone ?? 'UTC');
    if (logger.extents.length === 0) return el('p', {}, 'There are none yet.');
    return el(
      'div',
      {},
      el('p', {}, 'Every stored sample as CSV: time in UTC, the value as it is read now, and what was sent.'),
      erasedMs !== undefined &&
        el(
          'p',
          {},
          `Single readings from before ${dateAndClock(erasedMs, time)} were erased by age, as its site is set; their minutes are in the chart.`,
        ),
      el(
        'p',
        { class: 'buttons' },
        ...logger.extents.map((extent) =>
          el(
            'button',
            {
              type: 'button',
              click: async () => {
                try {
                  const file = await samplesCsv(loggerId, { channel: extent.channel }, (received) => {
                    status.textContent = `Fetching: ${bytes(received)} so far.`;
                  });
                  saveFile(file, `${loggerId}-${extent.channel}.csv`);
                  status.textContent = `Done: ${bytes(file.size)}, among your downloads.`;
                } catch (error) {
                  replace(status, problemNote(error));
                }
              },
            },
            // The count is of all that was ever stored: it would promise what was erased.
            `${sentence(extent.channel).slice(0, -1)}, ${extent.samplesFrom ? `from ${dateAndClock(Date.parse(extent.samplesFrom), time)} on` : `${largeNumber(extent.count)} samples`}`,
          ),
        ),
      ),
      status,
    );
  }

  function renewal(): HTMLElement {
    const result = el('div', {});
    return el(
      'details',
      {},
      el('summary', {}, 'Renew its key'),
      el(
        'p',
        {},
        'A new key is made and shown once; the old one ends at the same moment, so the device must be told the new one.',
      ),
      el(
        'p',
        {},
        el(
          'button',
          {
            type: 'button',
            class: 'wide',
            click: async () => {
              try {
                const { key } = await call('renewLoggerKey', { params: { id: loggerId } });
                replace(result, el('p', {}, 'The new key:'), copyLine(key, 'the key'));
              } catch (error) {
                replace(result, problemNote(error));
              }
            },
          },
          'Make a new key',
        ),
      ),
      result,
    );
  }

  void load();
  const unsubscribe = context.live.onFrame(async (frame) => {
    if (frame.type === 'samples') {
      const piece = frame.series.filter((candidate) => candidate.logger === loggerId);
      const newest = piece.find((candidate) => candidate.channel === 'pressure') ?? piece[0];
      if (newest && newest.value.length > 0)
        last.textContent = `Last value: ${valueWithUnit(newest.value.at(-1)!, newest.unit)}, just now.`;
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

/** What it takes on the disk, and how long the disk lasts. */
function roomWords(logger: LoggerResource, about: AboutResponse): string {
  const { freeBytes, daysLeft } = about.disk;
  const rate = logger.bytesPerDay === null ? '' : `, some ${bytes(logger.bytesPerDay)} more a day`;
  const free = freeBytes === null ? '' : ` The disk has ${bytes(freeBytes)} free`;
  const lasts =
    free === '' || daysLeft === null
      ? ''
      : daysLeft > 3650
        ? ', enough for more than ten years of all loggers'
        : `, enough for ${largeNumber(daysLeft)} days of all loggers`;
  return `Its sealed hours take ${bytes(logger.bytes)} on the disk${rate}.${free}${lasts}${free === '' ? '' : '.'}`;
}
