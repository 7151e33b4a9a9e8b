import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { bar, clock, clockRange, counted, duration, listed, percent, sentence } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import { CAUSE_WORDS, FAULT_WORDS } from '../terms.ts';
import { type DayEntry, WHOLE_DAY_FRACTION } from './day-entries.ts';
import { stateSentence } from './state-words.ts';

/** What the diary says of a day: one to three sentences, the supply's part first, then the household's, then the log's. */

const MORE_THAN_TOLD = 3;

export function dayWords(entry: DayEntry, position: FindingsDocument['series']['position'], time: SiteTime): string[] {
  const sentences = [
    supplySentence(entry, time),
    position === 'incoming' ? undefined : pumpSentence(entry, time),
    stateSentence(entry, time),
    changeSentence(entry, time),
    householdSentence(entry, position),
    logSentence(entry, time),
  ].filter((text): text is string => text !== undefined);
  if (entry.quiet) return [quietLine(entry, position)];
  if (sentences.length === 0) return ['Too little was logged to say anything.'];
  if (sentences.length <= MORE_THAN_TOLD) return sentences;
  // Ordinary draws give way first; what is missing from the log must always be told.
  const others = sentences.filter((text) => text !== householdSentence(entry, position));
  const missing = others.filter((text) => text === logSentence(entry, time)).slice(0, 1);
  const rest = others.filter((text) => text !== missing[0]);
  return [...rest.slice(0, MORE_THAN_TOLD - missing.length), ...missing];
}

/** The one line of a day with nothing to tell. */
function quietLine(entry: DayEntry, position: FindingsDocument['series']['position']): string {
  const household = householdSentence(entry, position);
  return household ? `Nothing to tell. ${household}` : 'Nothing to tell.';
}

function supplySentence(entry: DayEntry, time: SiteTime): string | undefined {
  const sags = entry.sags.filter((sag) => sag.state === 'present');
  const low = entry.lowSupply;
  const parts: string[] = [];
  if (sags.length > 0) {
    const told = sags.map((sag) => {
      const times =
        sag.start && sag.end
          ? ` from ${clockRange(Date.parse(sag.start), Date.parse(sag.end), time).replace('–', ' to ')}`
          : '';
      const depth = sag.depthBar === undefined ? '' : ` by ${bar(sag.depthBar)}`;
      const lowest = sag.lowestBar === undefined ? '' : `, down to ${bar(sag.lowestBar)}`;
      const doubt = sag.certainty === 'possible' ? ' (possible)' : '';
      return `in the ${sag.window}${times}${depth}${lowest}${doubt}`;
    });
    parts.push(`the supply sagged ${told.join(', and ')}`);
  }
  if (low.length > 0) {
    const minBar = Math.min(...low.map((period) => period.minBar));
    const certain = low.filter((period) => period.certainty === 'certain').length;
    const doubt =
      certain === low.length
        ? 'certain'
        : certain === 0
          ? 'possible'
          : `${certain} of ${low.length} certain, the rest possible`;
    const threshold = bar(low[0]!.thresholdBar);
    const clipped = low.map((period) => ({
      fromMs: Math.max(entry.day.startMs, Date.parse(period.start)),
      toMs: Math.min(entry.day.endMs, Date.parse(period.end)),
    }));
    const total = clipped.reduce((sum, span) => sum + span.toMs - span.fromMs, 0);
    const when =
      low.length > 2
        ? `${counted(low.length, 'time')} between ${clock(clipped[0]!.fromMs, time)} and ${clock(clipped.at(-1)!.toMs, time)}, ${duration(total)} in all`
        : listed(clipped.map((span) => `from ${clockRange(span.fromMs, span.toMs, time).replace('–', ' to ')}`));
    parts.push(`standing pressure was below ${threshold} ${when}, at the lowest ${bar(minBar)} (${doubt})`);
  }
  if (entry.weakInlet.length > 0) {
    const least = Math.min(...entry.weakInlet.map((spell) => spell.minBar));
    const pulls = entry.weakInlet.flatMap(({ pullBar }) => pullBar ?? []);
    const pulled =
      pulls.length > 0 ? `, pulled ${bar(Math.max(...pulls))} below the main’s standing pressure at most` : '';
    parts.push(
      `the pump’s inlet was weak in ${counted(entry.weakInlet.length, 'run')}, at the lowest ${bar(least)}${pulled}`,
    );
  }
  return parts.length > 0 ? sentence(parts.join('; ')) : undefined;
}

function pumpSentence(entry: DayEntry, time: SiteTime): string | undefined {
  const starts = entry.pumpStarts.length;
  const [episode] = [...entry.cycling].sort((a, b) => b.startsPerHour - a.startsPerHour);
  if (!episode) return starts > 0 && !entry.quiet ? sentence(`the pump started ${times(starts)}`) : undefined;
  const kind = episode.kind === 'no_demand' ? 'with nobody drawing water' : 'over and over while water was drawn';
  const from = Math.max(entry.day.startMs, Date.parse(episode.start));
  const to = Math.min(entry.day.endMs, Date.parse(episode.end));
  const causes = episode.causes.slice(0, 2).map((cause) => CAUSE_WORDS[cause]);
  const pointsTo = causes.length > 0 ? `, which points to ${causes.join(' or ')}` : '';
  const more = entry.cycling.length > 1 ? `, and in ${counted(entry.cycling.length - 1, 'further episode')}` : '';
  const rate = episode.startsPerHour.toFixed(episode.startsPerHour < 10 ? 1 : 0);
  return sentence(
    `the pump started ${kind} from ${clockRange(from, to, time).replace('–', ' to ')}, ${rate} times an hour${pointsTo}${more}`,
  );
}

function changeSentence(entry: DayEntry, time: SiteTime): string | undefined {
  const [change] = entry.changes;
  if (!change) return undefined;
  const what = {
    supply: 'the standing pressure changed for good',
    property: 'the pressure while drawing changed for good, the street’s did not',
    booster: 'a booster was fitted or removed',
    sensor: 'the sensor’s zero changed, not the supply',
  }[change.kind];
  return sentence(
    `around ${clock(Date.parse(change.at), time)} ${what}, from ${bar(change.fromBar)} to ${bar(change.toBar)}`,
  );
}

function householdSentence(entry: DayEntry, position: FindingsDocument['series']['position']): string | undefined {
  if (position === 'incoming') {
    const draws = entry.draws.length;
    return draws === 0 ? undefined : sentence(`${counted(draws, 'own draw')}, not counted against the supply`);
  }
  const starts = entry.pumpStarts.length;
  return entry.quiet && starts > 0 ? sentence(`the pump started ${times(starts)}`) : undefined;
}

function logSentence(entry: DayEntry, time: SiteTime): string | undefined {
  const parts: string[] = [];
  for (const fault of longestFirst(entry).slice(0, 2)) {
    const from = Math.max(entry.day.startMs, Date.parse(fault.start));
    const to = Math.min(entry.day.endMs, Date.parse(fault.end));
    const when = to > from ? `from ${clockRange(from, to, time).replace('–', ' to ')}` : `at ${clock(from, time)}`;
    parts.push(`${when} ${FAULT_WORDS[fault.kind]}`);
  }
  if (entry.partial) parts.push('the log holds only part of this day');
  else if (entry.validFraction !== undefined && entry.validFraction < WHOLE_DAY_FRACTION)
    parts.push(`${percent(entry.validFraction)} of the day is usable`);
  else if (entry.validFraction === undefined) parts.push('nothing usable was logged');
  return parts.length > 0 ? sentence(parts.join('; ')) : undefined;
}

function longestFirst(entry: DayEntry) {
  const lengthMs = (fault: { start: string; end: string }) => Date.parse(fault.end) - Date.parse(fault.start);
  return [...entry.faults].sort((a, b) => lengthMs(b) - lengthMs(a));
}

/** One extra sentence on a day that isn't 24 hours long; undefined on all others. */
export function clockChangeWords(entry: DayEntry, time: SiteTime): string | undefined {
  const [before, after] = time.stretchesOf(entry.day);
  if (!before || !after) return undefined;
  const shift = after.offsetMinutes - before.offsetMinutes;
  const at = clock(after.startMs, time);
  return shift > 0
    ? `The clocks went forward: this day has ${duration(entry.day.endMs - entry.day.startMs)}, and the strip is empty before ${at}.`
    : `The clocks went back: this day has ${duration(entry.day.endMs - entry.day.startMs)}, and the hour from ${at} is drawn twice.`;
}

function times(value: number): string {
  return value === 1 ? 'once' : value === 2 ? 'twice' : `${counted(value, 'time')}`;
}
