import type { AboutResponse } from '../../api/contract/payloads.ts';
import { sentence } from '../format.ts';
import { stateWords } from '../pages/logger-words.ts';

/** What keeps the program from its work and what to do, in sentences; none while all is well. */
export function programFaults(about: Pick<AboutResponse, 'store' | 'broker' | 'disk'>): string[] {
  const { store, broker, disk } = about;
  return [
    // A full disk says it itself, with what is lost by it.
    disk.state === 'low' && store.state === 'ok' && sentence(disk.message ?? ''),
    store.state === 'failing' && `Samples can’t be stored just now. ${store.message ?? ''}`.trim(),
    broker.state === 'failing' &&
      `Loggers can’t be heard just now${broker.message ? `: ${broker.message}` : ', the broker fails'}.`,
    broker.note !== undefined && sentence(stateWords(broker.note, undefined)),
  ].filter((fault) => fault !== false);
}
