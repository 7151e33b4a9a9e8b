import { localText } from '../../../collector/model/local-time.ts';
import { plural } from '../evidence/wording.ts';
import type { AnalysisSite, Evidence, PumpState } from '../findings.ts';

/** One sentence a kind: how often, when last, and what the last one showed. */
export function stateStatements(states: readonly PumpState[], site: AnalysisSite): Evidence['statements'][number][] {
  const kinds = [...new Set(states.map(({ kind }) => kind))];
  return kinds.map((kind) => {
    const these = states.filter((state) => state.kind === kind);
    return {
      text: sentenceOf(these, site),
      certainty: these.some(({ certainty }) => certainty === 'possible') ? 'possible' : 'certain',
    };
  });
}

/** Spells are counted as spells, starts as starts. */
function sentenceOf(these: readonly PumpState[], site: AnalysisSite): string {
  const last = these[these.length - 1]!;
  const once = these.length === 1;
  const when = localText(Date.parse(last.start), site.timeZone, 'd LLLL yyyy, HH:mm');
  const dated = `${once ? 'on' : 'last on'} ${when}`;
  const times = once ? 'Once' : these.length === 2 ? 'Twice' : `${these.length} times`;
  switch (last.kind) {
    case 'outside_hours': {
      const starts = these.reduce((sum, { value }) => sum + value, 0);
      const [from, to] = site.pump?.allowedHours ?? [0, 24];
      const spells = starts === 1 ? '' : `, in ${plural(these.length, 'spell')}`;
      return (
        `The pump started ${starts === 1 ? 'once' : `${starts} times`} outside its allowed hours, from ${from} to ${to}` +
        `${spells}, ${starts === 1 ? 'on' : 'last on'} ${when}.`
      );
    }
    case 'too_many_starts': {
      const most = these.reduce((worst, { value }) => Math.max(worst, value), 0);
      const source = site.pump?.startsLimitSource === undefined ? '' : ` (${site.pump.startsLimitSource})`;
      return (
        `${once ? 'In one spell' : `In ${plural(these.length, 'spell')}`} the pump started more often in an hour than the ` +
        `${site.pump?.mostStartsPerHour} set for it${source}, ${dated}; ${most} times in the worst hour.`
      );
    }
    case 'runs_on':
      return `${times} the pump ran on without reaching its cut-out, ${dated}. ${last.reason}`;
    case 'no_rise':
      return `${times} the pump ran without lifting the pressure, ${dated}. ${last.reason}`;
    case 'did_not_start':
      return `${times} the pressure stayed below cut-in and no start lifted it, ${dated}. ${last.reason}`;
    case 'did_not_stop':
      return `${times} the pump did not stop, ${dated}. ${last.reason}`;
    default:
      return last.kind satisfies never;
  }
}
