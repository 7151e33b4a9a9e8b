import { parseRfc3339 } from '../../collector/model/instant.ts';
import { localDays, localText } from '../../collector/model/local-time.ts';
import type { Drawing, Shape } from './drawing.ts';
import type { LetterInput } from './letter-input.ts';
import { pressureScale } from './pressure-scale.ts';
import { reduceLine } from './reduce-line.ts';

const WIDTH = 500;
const HEIGHT = 190;
const LEFT = 34;
const RIGHT = 452;
const TOP = 14;
const BOTTOM = 160;
/** More day names than this would run into one another on the width of a page. */
const MOST_DAY_LABELS = 10;
/** A hatch narrower than this is a smear on paper: the period is then marked in a lane at the chart's top. */
const NARROWEST_HATCH = 6;
const LANE_HEIGHT = 7;
/** More than this many periods are marked without a label of their own; the table lists them all. */
const MOST_PERIOD_LABELS = 4;

/** The whole span: the readings' range as a pale band, standing pressure as the strong line, periods hatched. */
export function spanChart(input: LetterInput): Drawing {
  const { findings, timeZone } = input;
  const { fromMs, toMs } = recordedSpan(input);
  const standing = standingColumns(input);
  const highest = highestBar(input, standing.bar);
  const scale = pressureScale(highest, BOTTOM, TOP);
  const x = (atMs: number) =>
    LEFT + ((Math.min(Math.max(atMs, fromMs), toMs) - fromMs) / Math.max(1, toMs - fromMs)) * (RIGHT - LEFT);
  const shapes: Shape[] = [];
  const days = localDays(fromMs, toMs, timeZone);

  for (const tick of scale.ticks) {
    shapes.push({
      kind: 'line',
      points: [
        [LEFT, scale.place(tick)],
        [RIGHT, scale.place(tick)],
      ],
      ink: 'rule',
      width: 0.4,
    });
    shapes.push({
      kind: 'text',
      x: LEFT - 4,
      y: scale.place(tick) + 2.5,
      text: String(tick),
      size: 7,
      ink: 'faint',
      anchor: 'end',
    });
  }
  shapes.push({ kind: 'text', x: LEFT - 4, y: TOP - 6, text: 'bar', size: 7, ink: 'faint', anchor: 'end' });
  const every = Math.ceil(days.length / MOST_DAY_LABELS);
  for (const [index, day] of days.entries()) {
    if (day.startMs > fromMs)
      shapes.push({
        kind: 'line',
        points: [
          [x(day.startMs), BOTTOM],
          [x(day.startMs), BOTTOM + 3],
        ],
        ink: 'faint',
        width: 0.5,
      });
    const room = x(day.endMs) - x(day.startMs);
    if (index % every === 0 && (room > 24 || every > 1 || days.length === 1))
      shapes.push({
        kind: 'text',
        x: x(day.startMs) + 2,
        y: BOTTOM + 10,
        text: localText(day.startMs, timeZone, days.length > 1 ? 'ccc d LLL' : 'd LLL yyyy'),
        size: 7,
        ink: 'faint',
        anchor: 'start',
      });
  }

  for (const [index, period] of markedPeriods(input).entries()) {
    const start = x(period.startMs);
    const width = Math.max(0.8, x(period.endMs) - start);
    shapes.push({
      kind: 'hatch',
      x: start,
      y: TOP,
      width,
      height: width < NARROWEST_HATCH ? LANE_HEIGHT : BOTTOM - TOP,
      ink: 'earth',
      outline: period.certain ? 'solid' : 'dashed',
    });
    if (index < MOST_PERIOD_LABELS && markedPeriods(input).length <= MOST_PERIOD_LABELS)
      shapes.push({
        kind: 'text',
        x: start + width / 2,
        y: TOP - 4,
        text: localText(period.startMs, timeZone, 'd LLL HH:mm'),
        size: 6.5,
        ink: 'earth',
        anchor: 'middle',
      });
  }
  const envelope = input.envelope;
  if (envelope && envelope.startMs.length > 0) {
    const step = envelope.stepMs * 1.5;
    const low = reduceLine(envelope.startMs, envelope.min, (at, bar) => [x(at), scale.place(bar)], 0.5, step);
    const high = reduceLine(envelope.startMs, envelope.max, (at, bar) => [x(at), scale.place(bar)], 0.5, step);
    for (const [index, piece] of low.entries()) {
      const above = high[index];
      if (above) shapes.push({ kind: 'area', points: [...piece, ...[...above].reverse()], ink: 'band' });
    }
  }
  for (const piece of reduceLine(
    standing.timeMs,
    standing.bar,
    (at, bar) => [x(at), scale.place(bar)],
    0.5,
    standing.stepMs * 1.5,
  ))
    shapes.push({ kind: 'line', points: piece, ink: 'water', width: 0.9 });

  const pumpStarts = findings.pumpStarts.map((start) => parseRfc3339(start.start)).filter((at) => at !== undefined);
  for (const atMs of pumpStarts.slice(0, 4000))
    shapes.push({
      kind: 'line',
      points: [
        [x(atMs), BOTTOM - 4],
        [x(atMs), BOTTOM],
      ],
      ink: 'ink',
      width: 0.3,
    });

  if (findings.standing) {
    const y = scale.place(findings.thresholds.lowSupplyBar);
    shapes.push({
      kind: 'line',
      points: [
        [LEFT, y],
        [RIGHT, y],
      ],
      ink: 'ink',
      width: 0.6,
      dash: [4, 2.5],
    });
    shapes.push({
      kind: 'text',
      x: RIGHT + 3,
      y: y + 2.5,
      text: `${findings.thresholds.lowSupplyBar} bar`,
      size: 7,
      ink: 'ink',
      anchor: 'start',
    });
  }
  shapes.push({
    kind: 'line',
    points: [
      [LEFT, BOTTOM],
      [RIGHT, BOTTOM],
    ],
    ink: 'faint',
    width: 0.6,
  });
  shapes.push({ kind: 'text', x: LEFT, y: HEIGHT - 4, text: legend(input), size: 6.5, ink: 'faint', anchor: 'start' });
  return { width: WIDTH, height: HEIGHT, description: description(input), shapes };
}

/** Periods that a chart hatches: low supply, or cycling without demand at a pump. */
export function markedPeriods(input: LetterInput): { startMs: number; endMs: number; certain: boolean }[] {
  const low = input.findings.lowSupply.map((period) => ({ ...period, certain: period.certainty === 'certain' }));
  const cycling = input.findings.cycling
    .filter((episode) => episode.kind !== 'normal')
    .map((episode) => ({ ...episode, certain: true }));
  return (input.findings.standing ? low : [...low, ...cycling])
    .map((period) => ({
      startMs: parseRfc3339(period.start) ?? Number.NaN,
      endMs: parseRfc3339(period.end) ?? Number.NaN,
      certain: period.certain,
    }))
    .filter((period) => period.endMs > input.fromMs && period.startMs < input.toMs);
}

/** Standing pressure as columns; empty where the position has none. */
export function standingColumns(input: LetterInput): {
  timeMs: Float64Array;
  bar: readonly (number | null)[];
  stepMs: number;
} {
  const standing = input.findings.standing;
  if (!standing) return { timeMs: new Float64Array(0), bar: [], stepMs: 60_000 };
  const startMs = parseRfc3339(standing.start) ?? 0;
  const stepMs = standing.stepS * 1000;
  return { timeMs: Float64Array.from(standing.bar, (_, index) => startMs + index * stepMs), bar: standing.bar, stepMs };
}

/** The span asked for, cut to what was recorded: an empty month says nothing on paper. */
export function recordedSpan(input: LetterInput): { fromMs: number; toMs: number } {
  const { start, end } = input.findings.series;
  const startMs = start === null ? input.fromMs : Math.max(input.fromMs, parseRfc3339(start) ?? input.fromMs);
  const endMs = end === null ? input.toMs : Math.min(input.toMs, parseRfc3339(end) ?? input.toMs);
  return { fromMs: startMs, toMs: Math.max(endMs, startMs + 60_000) };
}

/** What the pressure axis must hold: all of the standing pressure and nearly all of the readings. */
export function highestBar(input: LetterInput, standing: readonly (number | null)[]): number {
  let highest = input.findings.standing ? input.findings.thresholds.lowSupplyBar : 0.5;
  for (const bar of standing) if (bar !== null && bar > highest) highest = bar;
  if (input.envelope && input.envelope.max.length > 0) {
    const sorted = Float64Array.from(input.envelope.max).sort();
    highest = Math.max(highest, sorted[Math.floor((sorted.length - 1) * 0.995)]!);
  }
  return highest;
}

function legend(input: LetterInput): string {
  return input.findings.standing
    ? 'Line: standing pressure (own draws removed). Pale band: readings. Hatched: below the threshold; dashed outline: possible only. Dashed line: threshold.'
    : 'Pale band: readings. Ticks at the foot: pump starts. Hatched: the pump cycles.';
}

function description(input: LetterInput): string {
  const periods = markedPeriods(input).length;
  return `${input.findings.standing ? 'Standing pressure' : 'Pressure'} over the whole span, with ${periods} hatched ${periods === 1 ? 'period' : 'periods'}; the table lists them.`;
}
