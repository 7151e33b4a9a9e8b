import { localDate } from '../../collector/model/local-time.ts';
import { plusMinusBar } from '../../collector/model/uncertainty-words.ts';
import type { Change, Fault, FindingsDocument, LowSupply, Sag } from '../analysis/findings.ts';
import { bar, count, listed } from './account-words.ts';
import { createLocalFormat, durationText, type LocalFormat } from './local-format.ts';
import { patternAccount } from './pattern-account.ts';
import { pumpAccount } from './pump-account.ts';

const POSITION_WORDS = {
  incoming: 'on the incoming main',
  pump_inlet: "at the pump's inlet",
  pump_outlet: "at the pump's outlet",
} as const;

const CHANGE_WORDS: Record<Change['kind'], string> = {
  supply: 'the supply',
  property: 'inside the property (pressure while drawing)',
  booster: 'a booster fitted or taken away',
  sensor: 'the sensor itself (an offset)',
};

const FAULT_WORDS: Record<Fault['kind'], string> = {
  gap: 'no data',
  stuck: 'stuck reading',
  spike: 'spike',
  out_of_range: 'out of range',
  offset_step: "step of the sensor's offset",
  clock_jump: "jump of the logger's clock",
  duplicate: 'repeated rows',
  late: 'late rows',
  quantised: 'coarse steps',
};

/** The findings in plain words, for a terminal: the site's local time with its zone, every claim with its certainty. */
export function findingsAccount(found: FindingsDocument): string {
  const at = createLocalFormat(found.series.timeZone);
  const blocks = [
    opening(found, at),
    evidence(found),
    sags(found, at),
    lowSupply(found, at),
    patternAccount(found),
    changes(found, at),
    draws(found),
    pumpAccount(found, at),
    faults(found, at),
    limits(found),
  ];
  return `${blocks
    .filter((block) => block.length > 0)
    .map((block) => block.join('\n'))
    .join('\n\n')}\n`;
}

function opening(found: FindingsDocument, at: LocalFormat): string[] {
  const { start, end, samples, intervalS, position, timeZone } = found.series;
  if (start === null || end === null || samples === 0) return ['The file holds no readings: nothing can be said.'];
  const interval = intervalS === null ? '' : `, one every ${durationText(intervalS)}`;
  const lines = [
    `From ${at.moment(start)} to ${at.moment(end)} (times are local, ${timeZone}).`,
    `${count(samples, 'reading')}${interval}, taken ${POSITION_WORDS[position]}; ${share(found.coverage.validFraction)} of the expected ones are present and usable.${found.coverage.reason ? ` ${found.coverage.reason}` : ''}`,
    `A single reading is known to within ${plusMinusBar(found.sensorUBar)} (expanded uncertainty, k = 2)${budgetWords(found)}.`,
  ];
  const known = found.standing?.bar.filter((value) => value !== null) ?? [];
  if (known.length > 0) {
    const sorted = Float64Array.from(known).sort();
    const middle = sorted[sorted.length >> 1]!;
    lines.push(
      `Standing pressure, with nobody drawing: ${bar(middle)} in the middle, from ${bar(sorted[0]!)} to ${bar(sorted.at(-1)!)}; known for ${share(knownShare(found))} of the time.`,
    );
  }
  return lines;
}

function budgetWords(found: FindingsDocument): string {
  const largest = [...found.sensorBudget].sort((a, b) => b.standardUncertaintyBar - a.standardUncertaintyBar)[0];
  return largest ? `, mostly from ${largest.source}` : '';
}

function evidence(found: FindingsDocument): string[] {
  const { statements, open, logging } = found.evidence;
  if (statements.length + open.length === 0) return [];
  const said = statements.map(
    (entry) => `- ${entry.text}${entry.certainty === 'certain' ? '' : ` [${entry.certainty}]`}`,
  );
  const asked = open.map((text) => `- open: ${text}`);
  return ['What can be said', ...said, ...(logging ? [`- ${logging.text}`] : []), ...asked];
}

function sags(found: FindingsDocument, at: LocalFormat): string[] {
  if (found.series.position !== 'incoming' || found.sags.length === 0) return [];
  const present = found.sags.filter((sag) => sag.state === 'present');
  const unknown = found.sags.filter((sag) => sag.state === 'unknown').length;
  const absent = found.sags.filter((sag) => sag.state === 'absent').length;
  const lines = [
    `Sags of at least ${bar(found.thresholds.sagMinDepthBar)} below the night's level`,
    `${present.length} present, ${absent} absent, ${unknown} can't be told.`,
  ];
  for (const entry of found.sagSummary) {
    if (entry.judged === 0) continue;
    const when =
      entry.usualStartLocal && entry.usualEndLocal
        ? `, ${entry.present === 1 ? '' : 'usually '}${entry.usualStartLocal} to ${entry.usualEndLocal}`
        : '';
    const depth =
      entry.medianDepthBar === undefined
        ? ''
        : `, ${entry.present === 1 ? '' : 'median '}depth ${bar(entry.medianDepthBar)}`;
    const chance = entry.chance
      ? `; in this window only ${entry.chance.onlyHere}, at midday only ${entry.chance.onlyMidday}: p = ${Number(entry.chance.p.toPrecision(2))} (${entry.chance.test})`
      : '';
    lines.push(
      `- ${entry.window}s on ${entry.days === 'weekend' ? 'weekend days' : 'weekdays'}: present on ${entry.present} of ${entry.judged} judged${when}${depth}${chance}`,
    );
  }
  for (const one of found.sagComparison ?? []) {
    lines.push(`- weekdays against weekend days, ${one.window}s: p = ${Number(one.p.toPrecision(2))} (${one.test})`);
  }
  return [...lines, ...listed(present, (sag) => sagLine(sag, at))];
}

function sagLine(sag: Sag, at: LocalFormat): string {
  const span = sag.start && sag.end ? `${at.minute(sag.start)} to ${at.minute(sag.end)}` : 'edges not known';
  const depth = sag.depthBar === undefined ? '' : `, ${bar(sag.depthBar)} deep${plusMinus(sag.depthSdBar)}`;
  const marks = [
    sag.startsBefore ? 'began before the window' : '',
    sag.recovered === false ? "hadn't recovered within an hour of its end" : '',
    sag.certainty === 'possible' ? 'possible' : '',
  ].filter((mark) => mark !== '');
  return `${sag.day} ${sag.window}: ${span}${depth}${marks.length > 0 ? ` (${marks.join(', ')})` : ''}`;
}

function lowSupply(found: FindingsDocument, at: LocalFormat): string[] {
  const title = `Low supply: standing pressure below ${bar(found.thresholds.lowSupplyBar)}; the household's own draws are not counted`;
  if (found.series.position === 'pump_outlet') return [];
  if (found.lowSupply.length === 0) return [title, noneFound(found)];
  const totalS = found.lowSupply.reduce((sum, period) => sum + seconds(period.start, period.end), 0);
  const certain = found.lowSupply.filter((period) => period.certainty === 'certain').length;
  const lines = [
    title,
    `${count(found.lowSupply.length, 'period')}, ${durationText(totalS)} in all: ${certain} certain, ${found.lowSupply.length - certain} possible; ${found.lowSupply.filter((p) => p.qualifying).length} of at least an hour.`,
  ];
  if (found.qualifying.pairs.length > 0)
    lines.push(`${count(found.qualifying.pairs.length, 'pair')} of occasions: ${found.qualifying.interpretation}`);
  return [...lines, ...listed(found.lowSupply, (period) => lowLine(period, at))];
}

const CANNOT_TELL = "Can't be told: standing pressure isn't known at any time.";

/** Share of the log's span for which standing pressure is known. */
function knownShare({ series, standing }: FindingsDocument): number {
  if (!standing || series.start === null || series.end === null) return 0;
  const knownS = standing.bar.filter((value) => value !== null).length * standing.stepS;
  return Math.min(1, knownS / Math.max(1, seconds(series.start, series.end)));
}

function noneFound(found: FindingsDocument): string {
  const known = knownShare(found);
  if (known === 0) return CANNOT_TELL;
  return `None found; standing pressure is known for ${share(known)} of the time.`;
}

function lowLine(period: LowSupply, at: LocalFormat): string {
  return `${at.span(period.start, period.end)} (${durationText(seconds(period.start, period.end))}): lowest ${bar(period.minBar)}, mean ${bar(period.meanBar)} ${plusMinusBar(2 * period.standardUncertaintyBar)}, the lowest ${at.moment(period.lowestAt)}, ${share(period.seenFraction)} seen directly; ${period.certainty}`;
}

function changes(found: FindingsDocument, at: LocalFormat): string[] {
  if (found.changes.length === 0) return [];
  return [
    'Lasting changes',
    ...listed(found.changes, (change) => {
      const size = change.sizeIntervalBar
        ? ` (size between ${bar(change.sizeIntervalBar[0])} and ${bar(change.sizeIntervalBar[1])} with 95 %)`
        : '';
      return `${at.moment(change.at)}: from ${bar(change.fromBar)} to ${bar(change.toBar)}${size}; ${CHANGE_WORDS[change.kind]}`;
    }),
  ];
}

function draws(found: FindingsDocument): string[] {
  if (found.series.position !== 'incoming') return [];
  if (found.draws.length === 0) {
    const floor = found.detectionFloor;
    const least = floor ? ` of ${durationText(floor.durationS)} and ${bar(floor.dropBar)} or more` : '';
    return ['Own draws', knownShare(found) === 0 ? CANNOT_TELL : `None${least} found.`];
  }
  const falls = Float64Array.from(found.draws, (draw) => draw.dropBar).sort();
  const litres = found.draws.reduce((sum, draw) => sum + (draw.litres ?? 0), 0);
  const volume = litres > 0 ? `; ${Math.round(litres)} l in all` : '';
  const days = Math.max(1, found.coverage.days.length);
  return [
    'Own draws',
    `${count(found.draws.length, 'draw')}, ${(found.draws.length / days).toFixed(1)} a day; the pressure then falls by ${bar(falls[falls.length >> 1]!)} in the middle, at most ${bar(falls.at(-1)!)}${volume}.`,
  ];
}

function faults(found: FindingsDocument, at: LocalFormat): string[] {
  if (found.faults.length === 0) return [];
  const kinds = [...new Set(found.faults.map((fault) => fault.kind))];
  return [
    'Faults of the data (kept, marked and not used)',
    ...kinds.map((kind) => {
      const all = found.faults.filter((fault) => fault.kind === kind);
      const lasting = all.reduce((sum, fault) => sum + seconds(fault.start, fault.end), 0);
      const first = all[0]!;
      const days = new Set(all.map((fault) => localDate(Date.parse(fault.start), found.series.timeZone))).size;
      const length = lasting > 0 ? `, ${durationText(lasting)} in all` : '';
      return `- ${FAULT_WORDS[kind]}: ${all.length} on ${count(days, 'day')}${length}; first ${at.moment(first.start)}`;
    }),
  ];
}

function limits(found: FindingsDocument): string[] {
  return found.limits.length === 0 ? [] : ["What this log can't show", ...found.limits.map((limit) => `- ${limit}`)];
}

function seconds(start: string, end: string): number {
  return (Date.parse(end) - Date.parse(start)) / 1000;
}

/** ± 0.00 would say that something is known exactly. */
const LEAST_TOLD_BAR = 0.01;

function plusMinus(sdBar: number | undefined): string {
  if (sdBar === undefined) return '';
  return ` (${plusMinusBar(Math.max(LEAST_TOLD_BAR, sdBar))}, one standard deviation)`;
}

function share(fraction: number): string {
  const percent = fraction * 100;
  return `${percent >= 99.95 || percent === 0 ? percent.toFixed(0) : percent.toFixed(1)} %`;
}
