import type { AboutResponse, LoggerResource } from '../../api/contract/payloads.ts';
import { samplesCsv } from '../data/api-client.ts';
import { bytes, counted, dateAndClock, largeNumber, sentence } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import { saveFile } from '../parts/save-file.ts';
import { createSiteTime } from '../site-time.ts';
import { erasedInFiles, erasedUntilMs } from './erased-until.ts';
import { roomTaken } from './logger-words.ts';

/** A logger's samples as files, what they take on the disk, and how long the disk lasts. */
export function createLoggerRecord(loggerId: string) {
  const files = el('div', {});
  const room = el('p', { class: 'quiet' });
  let drawn = '';
  return {
    element: el('div', {}, files, room),
    update(logger: LoggerResource, about: AboutResponse, timeZone: string | undefined): void {
      room.textContent = roomWords(logger, about);
      // Drawn anew only when it differs: somebody may be at one of its buttons, or reading how a download went.
      const next = JSON.stringify([
        timeZone,
        logger.extents.map((extent) => [extent.channel, extent.count, extent.samplesFrom]),
      ]);
      if (next === drawn) return;
      drawn = next;
      replace(files, downloads(loggerId, logger, timeZone));
    },
  };
}

function downloads(loggerId: string, logger: LoggerResource, timeZone: string | undefined): HTMLElement {
  const status = el('p', { class: 'quiet', role: 'status' });
  const erasedMs = erasedUntilMs([logger]);
  const time = createSiteTime(timeZone ?? 'UTC');
  if (logger.extents.length === 0) return el('p', {}, 'There are none yet.');
  return el(
    'div',
    {},
    el('p', {}, 'Every stored sample as CSV: time in UTC, the value as it is read now, and what was sent.'),
    erasedMs !== undefined && el('p', {}, erasedInFiles(erasedMs, time)),
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

/** What it takes on the disk, and how long the disk lasts. */
function roomWords(logger: LoggerResource, about: AboutResponse): string {
  const { freeBytes, daysLeft } = about.disk;
  if (freeBytes === null) return roomTaken(logger);
  const lasts =
    daysLeft === null
      ? ''
      : daysLeft > 3650
        ? ', enough for more than ten years of all loggers'
        : `, enough for ${counted(daysLeft, 'day')} of all loggers`;
  return `${roomTaken(logger)} The disk has ${bytes(freeBytes)} free${lasts}.`;
}
