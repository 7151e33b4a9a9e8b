import type { PumpState, PumpStateKind } from '../../api/analysis/findings.ts';
import { clockRange, counted, listed, sentence } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import { STATE_WORDS } from '../terms.ts';
import type { DayEntry } from './day-entries.ts';

/** What can hurt the pump soonest is told first. */
const ORDER: readonly PumpStateKind[] = [
  'no_rise',
  'did_not_stop',
  'did_not_start',
  'runs_on',
  'too_many_starts',
  'outside_hours',
];
const MOST_TOLD = 2;

/** What a pump did that it isn't there for, in one sentence of a day; undefined where it did nothing of the kind. */
export function stateSentence({ pumpStates, day }: DayEntry, time: SiteTime): string | undefined {
  const kinds = ORDER.filter((kind) => pumpStates.some((state) => state.kind === kind));
  if (kinds.length === 0) return undefined;
  const told = kinds.slice(0, MOST_TOLD).map((kind) => kindWords(kind, pumpStates, day, time));
  const left = kinds.length - told.length;
  return sentence(`${told.join('; ')}${left > 0 ? `; and ${counted(left, 'more state')} of the pump` : ''}`);
}

function kindWords(kind: PumpStateKind, states: readonly PumpState[], day: DayEntry['day'], time: SiteTime): string {
  const these = states.filter((state) => state.kind === kind);
  const when =
    these.length > MOST_TOLD
      ? counted(these.length, 'time')
      : listed(
          these.map(({ start, end }) => {
            const [fromMs, toMs] = [Math.max(day.startMs, Date.parse(start)), Math.min(day.endMs, Date.parse(end))];
            return toMs > fromMs
              ? `from ${clockRange(fromMs, toMs, time).replace('–', ' to ')}`
              : `at ${clockRange(fromMs, fromMs, time)}`;
          }),
        );
  const doubt = these.some(({ certainty }) => certainty === 'possible') ? ' (possible)' : '';
  return `${STATE_WORDS[kind]} ${when}${doubt}`;
}
