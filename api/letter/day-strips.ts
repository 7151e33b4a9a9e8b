import { localDays, localText, utcOffsetMinutes } from '../../collector/model/local-time.ts';
import type { Drawing, Shape } from './drawing.ts';
import type { LetterInput } from './letter-input.ts';
import { pressureScale } from './pressure-scale.ts';
import { reduceLine } from './reduce-line.ts';
import { highestBar, markedPeriods, recordedSpan, standingColumns } from './span-chart.ts';

const WIDTH = 500;
const LEFT = 62;
const RIGHT = 478;
const ROW_HEIGHT = 30;
const HEAD = 14;
/** As many strips as fit under one another on one page of A4. */
export const MOST_STRIPS = 21;
const NIGHT_END_HOUR = 5;

/**
 * One strip a day from 00 to 24 by the site's clock, all on one scale and exactly under one another, so that a morning
 * that sags every day is seen as a column. Of a longer record the newest days are drawn.
 */
export function dayStrips(input: LetterInput): Drawing | undefined {
  const standing = standingColumns(input);
  const span = recordedSpan(input);
  const days = localDays(span.fromMs, span.toMs, input.timeZone).slice(-MOST_STRIPS);
  if (days.length === 0 || (standing.bar.length === 0 && !input.envelope)) return undefined;
  const highest = highestBar(input, standing.bar);
  const shapes: Shape[] = [];
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
    for (const period of markedPeriods(input)) {
      const start = Math.max(period.startMs, day.startMs);
      const end = Math.min(period.endMs, day.endMs);
      if (end <= start) continue;
      const x = xOf(start, day);
      shapes.push({
        kind: 'hatch',
        x,
        y: top,
        width: Math.max(0.8, xOf(end - 1, day) - x),
        height: bottom - top,
        ink: 'earth',
        outline: period.certain ? 'solid' : 'dashed',
      });
    }
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
    } else if (input.envelope) {
      const { startMs, min, max, stepMs } = input.envelope;
      const from = lowerBound(startMs, day.startMs);
      const to = lowerBound(startMs, day.endMs);
      for (const column of [min, max])
        for (const piece of reduceLine(startMs.subarray(from, to), column.subarray(from, to), place, 0.5, stepMs * 1.5))
          shapes.push({ kind: 'line', points: piece, ink: 'water', width: 0.4 });
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

function lowerBound(sorted: Float64Array, value: number): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
