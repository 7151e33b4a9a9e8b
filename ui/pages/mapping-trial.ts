import type { MappingTrialResponse } from '../../api/contract/payloads.ts';
import { counted, dateAndClock, valueWithUnit } from '../format.ts';
import { el } from '../parts/element.ts';
import { createSiteTime } from '../site-time.ts';

type Message = MappingTrialResponse['messages'][number];

/** What would be read from each sample message, or why not. */
export function mappingTrial(trial: MappingTrialResponse, timeZone: string | undefined): HTMLElement {
  return el(
    'div',
    { role: 'status' },
    el('h3', {}, 'What would be read'),
    ...trial.messages.map((message) => messageResult(message, timeZone)),
    el('p', { class: 'quiet' }, 'Nothing was stored by trying.'),
  );
}

function messageResult(message: Message, timeZone: string | undefined): HTMLElement {
  if (!message.matches)
    return el(
      'p',
      {},
      `${message.topic}: doesn’t lie under the topic filter, so it would not be taken for this device.`,
    );
  const more = message.readingCount - message.readings.length;
  const moreRefused = message.refusedCount - message.refused.length;
  return el(
    'div',
    {},
    el('p', {}, `${message.topic}: ${verdict(message)}`),
    el(
      'ul',
      {},
      ...message.readings.map((reading) => el('li', {}, readingWords(reading, timeZone))),
      more > 0 && el('li', {}, `and ${counted(more, 'further reading')}`),
      ...message.refused.map(({ index, reason }) =>
        el('li', {}, `Refused${index === null ? '' : `, entry ${index}`}: ${reason}`),
      ),
      moreRefused > 0 && el('li', {}, `and ${counted(moreRefused, 'further refusal')}`),
    ),
  );
}

function verdict({ readingCount, refusedCount }: Message): string {
  if (refusedCount === 0) return `${counted(readingCount, 'reading')}, all can be read.`;
  if (readingCount === 0) return 'nothing can be read.';
  return `${counted(readingCount, 'reading')}, and ${refusedCount} refused.`;
}

function readingWords(reading: Message['readings'][number], timeZone: string | undefined): string {
  const value =
    reading.value === null
      ? `${reading.valueAsSent} ${reading.unitAsSent}, which can’t be converted yet: set the transducer’s end points`
      : `${valueWithUnit(reading.value, reading.unit)} (${reading.valueAsSent} ${reading.unitAsSent} as sent)`;
  const time = dateAndClock(Date.parse(reading.time), createSiteTime(timeZone ?? 'UTC'));
  const when =
    reading.timeFrom === 'arrival'
      ? 'at the time of its arrival'
      : `of ${time}${timeZone === undefined ? ' UTC' : ''}, as the message says`;
  return `${reading.channel}: ${value}, ${when}`;
}
