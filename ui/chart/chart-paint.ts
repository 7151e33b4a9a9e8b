import type { ChartMarks, Mark } from './chart-marks.ts';

/* Marks on a canvas: beneath the lines and above them. */

/** Colours of the theme in force, read from the style sheet. */
export interface Palette {
  readonly ink: string;
  readonly quiet: string;
  readonly hair: string;
  readonly night: string;
  readonly water: string;
  readonly soft: string;
  readonly band: string;
  readonly edge: string;
  readonly earth: string;
  readonly paper: string;
  readonly font: string;
}

/** Where a canvas's picture lies, in canvas pixels, and how values become positions on it. */
export interface Frame {
  readonly context: CanvasRenderingContext2D;
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly ratio: number;
  xOf(atMs: number): number;
  yOf(bar: number): number;
}

/** Beneath everything: nights. */
export function paintNights(frame: Frame, marks: ChartMarks, palette: Palette): void {
  const { context, top, height } = frame;
  context.fillStyle = palette.night;
  for (const night of marks.nights) {
    const [x, width] = clip(frame, night);
    context.fillRect(x, top, width, height);
  }
}

/** Above the grid and beneath the lines: the open finding, low supply with its hatching. */
export function paintPeriods(frame: Frame, marks: ChartMarks, palette: Palette): void {
  const { context, top, height } = frame;
  if (marks.chosen) {
    const [x, width] = clip(frame, marks.chosen);
    context.strokeStyle = palette.ink;
    context.lineWidth = frame.ratio;
    context.strokeRect(x, top + frame.ratio, Math.max(width, 2 * frame.ratio), height - 2 * frame.ratio);
  }
  for (const period of marks.low) {
    const [x, width] = clip(frame, period);
    hatch(frame, x, Math.max(width, frame.ratio), palette.earth, period.certain);
  }
}

/** Above the lines: draws along the foot, pump starts along the head, thresholds and labels. */
export function paintAbove(frame: Frame, marks: ChartMarks, palette: Palette): void {
  const { context, left, top, width, height, ratio } = frame;
  context.save();
  context.beginPath();
  context.rect(left, top, width, height);
  context.clip();
  context.fillStyle = palette.ink;
  const foot = top + height;
  for (const draw of marks.draws) {
    const [x, long] = clip(frame, draw);
    context.fillRect(x, foot - 8 * ratio, Math.max(long, ratio), 8 * ratio);
  }
  for (const start of marks.starts) {
    const [x, long] = clip(frame, start);
    context.fillRect(x, top, ratio, 8 * ratio);
    context.fillRect(x, top, Math.max(long, ratio), 2 * ratio);
  }
  context.font = `${12 * ratio}px ${palette.font}`;
  for (const change of marks.changes) {
    const x = frame.xOf(change.atMs);
    context.setLineDash([2 * ratio, 3 * ratio]);
    line(context, x, top, x, foot, palette.ink, ratio);
    label(frame, change.label, x + 4 * ratio, top + 28 * ratio, palette);
  }
  for (const threshold of marks.thresholds) {
    const y = frame.yOf(threshold.bar);
    context.setLineDash([6 * ratio, 4 * ratio]);
    line(context, left, y, left + width, y, palette.ink, ratio);
    context.textAlign = 'right';
    label(frame, threshold.label, left + width - 4 * ratio, y - 5 * ratio, palette);
    context.textAlign = 'left';
  }
  if (marks.newest) {
    context.fillStyle = palette.water;
    context.beginPath();
    context.arc(frame.xOf(marks.newest.atMs), frame.yOf(marks.newest.bar), 4 * ratio, 0, 2 * Math.PI);
    context.fill();
  }
  let freeFrom = Number.NEGATIVE_INFINITY;
  for (const period of marks.low) {
    const [x, long] = clip(frame, period);
    const text = period.certain ? period.label : `${period.label} possible`;
    const size = context.measureText(text).width;
    const at = Math.min(Math.max(left + 2 * ratio, x + long / 2 - size / 2), left + width - size - 2 * ratio);
    // A label that would run into the last one is left out; the list below the chart names every period.
    if (at < freeFrom || size > width / 2) continue;
    label(frame, text, at, top + 22 * ratio, palette);
    freeFrom = at + size + 10 * ratio;
  }
  context.restore();
}

function clip(frame: Frame, mark: Mark): [number, number] {
  const from = Math.max(frame.left, frame.xOf(mark.fromMs));
  const to = Math.min(frame.left + frame.width, frame.xOf(mark.toMs));
  return [from, Math.max(0, to - from)];
}

/** Diagonal lines: close for what is certain, wide for what is possible. */
function hatch(frame: Frame, x: number, width: number, colour: string, certain: boolean): void {
  const { context, top, height, ratio } = frame;
  const step = (certain ? 8 : 16) * ratio;
  context.save();
  context.beginPath();
  context.rect(x, top, width, height);
  context.clip();
  context.strokeStyle = colour;
  context.lineWidth = ratio * 1.4;
  context.beginPath();
  for (let at = Math.floor((x - height) / step) * step; at < x + width; at += step) {
    context.moveTo(at, top + height);
    context.lineTo(at + height, top);
  }
  context.stroke();
  context.restore();
}

function line(
  context: CanvasRenderingContext2D,
  x1: number,
  y1: number,
  x2: number,
  y2: number,
  colour: string,
  lineWidth: number,
): void {
  context.strokeStyle = colour;
  context.lineWidth = lineWidth;
  context.beginPath();
  context.moveTo(x1, y1);
  context.lineTo(x2, y2);
  context.stroke();
  context.setLineDash([]);
}

/** Text with a rim of paper, so that it stays readable over bands and hatching. */
function label(frame: Frame, text: string, x: number, y: number, palette: Palette): void {
  const { context, ratio } = frame;
  context.lineJoin = 'round';
  context.strokeStyle = palette.paper;
  context.lineWidth = 4 * ratio;
  context.strokeText(text, x, y);
  context.fillStyle = palette.ink;
  context.fillText(text, x, y);
}
