import { localDays, localText, utcOffsetMinutes } from '../../collector/model/local-time.ts';
import { pressureScale } from '../figures/pressure-scale.ts';
import type { Drawing, Shape } from './drawing.ts';
import type { LetterInput } from './letter-input.ts';
import { LANE_HEIGHT, markedPeriods, onPaper, pumpStartTimes } from './marked-periods.ts';
import { readingBand } from './reading-band.ts';
import { reduceLine } from './reduce-line.ts';
import { highestBar, recordedSpan, standingColumns } from './span-chart.ts';

const WIDTH = 500;
const LEFT = 62;
const RIGHT = 478;
/** Three weeks of strips fill a page of A4. */
const ROW_HEIGHT = 27;
const HEAD = 14;
/** Four weeks: what a logger is left for, and what is still seen at a glance. */
const MOST_STRIPS = 28;
/** Strips of one picture: several such fit on a page, and one finds its place below whatever stands above it. */
const STRIPS_TOGETHER = 7;
const NIGHT_END_HOUR = 5;

/**
 * One strip a day from 00 to 24 by the site's clock, all on one scale and exactly under one another, so that a morning
 * that sags every day is seen as a column. A week makes a picture; of a longer record the newest days are drawn.
 */
export function dayStrips(input: LetterInput): { readonly caption: string; readonly drawing: Drawing }[] {
  const span = recordedSpan(input);
  const all = localDays(span.fromMs, span.toMs, input.timeZone);
  if (all.length === 0 || (!input.findings.standing?.bar.length && !input.envelope)) return [];
  const days = all.slice(-MOST_STRIPS);
  const { top } = pressureScale(highestBar(input, standingColumns(input).bar), 1, 0);
  const cut = all.length > days.length ? `, the ${days.length} newest of ${all.length} days` : '';
  const caption = `Day by day, midnight to midnight by the clock at the house, each strip from 0 to ${top} bar${cut}`;
  // Pictures of one height, where the last would else hold a day or two.
  const together = Math.ceil(days.length / Math.ceil(days.length / STRIPS_TOGETHER));
  return Array.from({ length: Math.ceil(days.length / together) }, (_, at) => ({
    caption: at === 0 ? caption : 'Day by day, continued',
    drawing: strips(input, days.slice(at * together, (at + 1) * together)),
  }));
}

function strips(input: LetterInput, days: ReturnType<typeof localDays>): Drawing {
  const standing = standingColumns(input);
  const highest = highestBar(input, standing.bar);
  const shapes: Shape[] = [];
  const periods = markedPeriods(input);
  const starts = pumpStartTimes(input);
  const xOf = (atMs: number, day: { startMs: number }) => {
    // By the clock on the wall: on the day of a clock change an hour is missing, or lies over itself.
    const shiftMinutes = utcOffsetMinutes(atMs, input.timeZone) - utcOffsetMinutes(day.startMs, input.timeZone);
    const minutes = (atMs - day.startMs) / 60_000 + shiftMinutes;
    return LEFT + (Math.min(Math.max(minutes, 0), 1440) / 1440) * (RIGHT - LEFT);
  };
  for (let hour = 0; hour <= 24; hour += 3) {
    const x = LEFT + (hour / 24) * (RIGHT - LEFT);
    shapes.push({
      kind: 'text',
      x,
      y: HEAD - 5,
      text: String(hour).padStart(2, '0'),
      size: 7,
      ink: 'faint',
      anchor: 'middle',
    });
  }
  for (const [row, day] of days.entries()) {
    const top = HEAD + row * ROW_HEIGHT + 2;
    const bottom = HEAD + (row + 1) * ROW_HEIGHT - 2;
    const scale = pressureScale(highest, bottom, top);
    shapes.push({
      kind: 'box',
      x: LEFT,
      y: top,
      width: (NIGHT_END_HOUR / 24) * (RIGHT - LEFT),
      height: bottom - top,
      ink: 'night',
    });
    shapes.push({
      kind: 'text',
      x: LEFT - 5,
      y: (top + bottom) / 2 + 2.5,
      text: localText(day.startMs + 43_200_000, input.timeZone, 'ccc d LLL'),
      size: 7,
      ink: 'ink',
      anchor: 'end',
    });
    shapes.push({
      kind: 'line',
      points: [
        [LEFT, bottom],
        [RIGHT, bottom],
      ],
      ink: 'rule',
      width: 0.4,
    });
    const place = (atMs: number, bar: number): readonly [number, number] => [xOf(atMs, day), scale.place(bar)];
    if (standing.bar.length === 0 && input.envelope)
      shapes.push(
        ...readingBand(input.envelope, { fromMs: day.startMs, toMs: day.endMs }, (at) => xOf(at, day), scale.place),
      );
    const here = periods
      .filter(({ startMs, endMs }) => endMs > day.startMs && startMs < day.endMs)
      .map((period) => ({
        ...period,
        startMs: Math.max(period.startMs, day.startMs),
        endMs: Math.min(period.endMs, day.endMs) - 1,
      }));
    for (const { fromX, toX, certain } of onPaper(here, (at) => xOf(at, day)))
      shapes.push({
        kind: 'hatch',
        x: fromX,
        y: top,
        width: Math.max(0.8, toX - fromX),
        height: input.findings.standing ? bottom - top : LANE_HEIGHT,
        ink: 'earth',
        outline: certain ? 'solid' : 'dashed',
      });
    for (const atMs of starts)
      if (atMs >= day.startMs && atMs < day.endMs)
        shapes.push({
          kind: 'line',
          points: [
            [xOf(atMs, day), bottom - 3],
            [xOf(atMs, day), bottom],
          ],
          ink: 'ink',
          width: 0.3,
        });
    if (standing.bar.length > 0) {
      const first = Math.max(0, Math.floor((day.startMs - standing.timeMs[0]!) / standing.stepMs));
      const last = Math.max(0, Math.ceil((day.endMs - standing.timeMs[0]!) / standing.stepMs));
      const pieces = reduceLine(
        standing.timeMs.subarray(first, last),
        standing.bar.slice(first, last),
        place,
        0.5,
        standing.stepMs * 1.5,
      );
      for (const piece of pieces) shapes.push({ kind: 'line', points: piece, ink: 'water', width: 0.8 });
      const y = scale.place(input.findings.thresholds.lowSupplyBar);
      shapes.push({
        kind: 'line',
        points: [
          [LEFT, y],
          [RIGHT, y],
        ],
        ink: 'faint',
        width: 0.4,
        dash: [3, 2],
      });
    }
  }
  const top = pressureScale(highest, 1, 0).top;
  return {
    width: WIDTH,
    height: HEAD + days.length * ROW_HEIGHT + 2,
    description: `${days.length} days, each from midnight to midnight (${input.timeZone}), every strip from 0 to ${top} bar; hatched periods are listed in the table.`,
    shapes,
  };
}
