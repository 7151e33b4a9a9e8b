import { parseRfc3339 } from '../../collector/model/instant.ts';
import { localText } from '../../collector/model/local-time.ts';
import { pressureScale } from '../figures/pressure-scale.ts';
import type { Drawing, Shape } from './drawing.ts';
import type { LetterInput } from './letter-input.ts';
import { LANE_HEIGHT, markedPeriods, onPaper, pumpStartTimes } from './marked-periods.ts';
import { readingBand } from './reading-band.ts';
import { reduceLine } from './reduce-line.ts';
import { timeLabels } from './time-labels.ts';

const WIDTH = 500;
const HEIGHT = 194;
const LEFT = 34;
const RIGHT = 452;
const TOP = 14;
const BOTTOM = 160;
/** A hatch narrower than this is a smear on paper: the period is then marked in a lane at the chart's top. */
const NARROWEST_HATCH = 6;
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
  shapes.push(...timeLabels(timeZone, { fromMs, toMs }, x, BOTTOM));

  if (input.envelope) shapes.push(...readingBand(input.envelope, { fromMs, toMs }, x, scale.place));
  const periods = markedPeriods(input);
  for (const period of onPaper(periods, x)) {
    const width = Math.max(0.8, period.toX - period.fromX);
    const inLane = !findings.standing || width < NARROWEST_HATCH;
    shapes.push({
      kind: 'hatch',
      x: period.fromX,
      y: TOP,
      width,
      height: inLane ? LANE_HEIGHT : BOTTOM - TOP,
      ink: 'earth',
      outline: period.certain ? 'solid' : 'dashed',
    });
  }
  if (periods.length <= MOST_PERIOD_LABELS)
    for (const period of periods)
      shapes.push({
        kind: 'text',
        x: (x(period.startMs) + x(period.endMs)) / 2,
        y: TOP - 4,
        text: localText(period.startMs, timeZone, 'd LLL HH:mm'),
        size: 6.5,
        ink: 'earth',
        anchor: 'middle',
      });
  for (const piece of reduceLine(
    standing.timeMs,
    standing.bar,
    (at, bar) => [x(at), scale.place(bar)],
    0.5,
    standing.stepMs * 1.5,
  ))
    shapes.push({ kind: 'line', points: piece, ink: 'water', width: 0.9 });

  for (const atMs of pumpStartTimes(input))
    shapes.push({
      kind: 'line',
      points: [
        [x(atMs), BOTTOM - 4],
        [x(atMs), BOTTOM],
      ],
      ink: 'ink',
      width: 0.3,
    });

  const fittedMs = findings.fitting ? Date.parse(findings.fitting.at) : Number.NaN;
  if (fittedMs > fromMs && fittedMs < toMs) shapes.push(...fittingMark(x(fittedMs)));
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
  for (const [line, text] of legend(input).entries())
    shapes.push({ kind: 'text', x: LEFT, y: BOTTOM + 22 + line * 9, text, size: 6.5, ink: 'faint', anchor: 'start' });
  return { width: WIDTH, height: HEIGHT, description: description(input), shapes };
}

/** A line from top to foot where something was fitted, with its name. */
function fittingMark(x: number): Shape[] {
  return [
    {
      kind: 'line',
      points: [
        [x, TOP],
        [x, BOTTOM],
      ],
      ink: 'ink',
      width: 0.8,
      dash: [1.5, 1.5],
    },
    { kind: 'text', x: x + 2, y: BOTTOM - 8, text: 'fitted', size: 7, ink: 'ink', anchor: 'start' },
  ];
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

/** Lines that fit beneath the chart. */
function legend({ findings, position }: LetterInput): string[] {
  if (findings.standing)
    return [
      'Line: standing pressure (own draws removed). Pale band: readings. Dashed line: threshold.',
      'Hatched: below the threshold, in a lane at the top where it is short; dashed outline: possible only.',
    ];
  if (position === 'incoming') return ['Pale band: lowest and highest reading.'];
  return ['Pale band: readings. Ticks at the foot: pump starts. Hatched along the top: the pump cycles.'];
}

function description(input: LetterInput): string {
  const periods = markedPeriods(input).length;
  return `${input.findings.standing ? 'Standing pressure' : 'Pressure'} over the whole span, with ${periods} hatched ${periods === 1 ? 'period' : 'periods'}; the table lists them.`;
}
