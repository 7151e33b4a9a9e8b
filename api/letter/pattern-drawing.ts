import type { Shape } from './drawing.ts';

/** Room of every picture of the pattern on paper, in points. */
export const PLOT = { width: 500, left: 34, right: 452, top: 14 } as const;

/** Round pressures along the left, with their rules, and the foot of the plot. */
export function pressureAxis(ticksBar: readonly number[], y: (bar: number) => number, bottom: number): Shape[] {
  const { left, right, top } = PLOT;
  return [
    ...ticksBar.flatMap((tick): Shape[] => [
      across(y(tick), left, right, 'rule', 0.4),
      { kind: 'text', x: left - 4, y: y(tick) + 2.5, text: String(tick), size: 7, ink: 'faint', anchor: 'end' },
    ]),
    { kind: 'text', x: left - 4, y: top - 6, text: 'bar', size: 7, ink: 'faint', anchor: 'end' },
    across(bottom, left, right, 'faint', 0.6),
  ];
}

/** The threshold, dashed, with its value at the right edge. */
export function thresholdLine(thresholdBar: number | undefined, y: (bar: number) => number): Shape[] {
  if (thresholdBar === undefined) return [];
  const place = y(thresholdBar);
  return [
    { ...across(place, PLOT.left, PLOT.right, 'ink', 0.6), dash: [4, 2.5] },
    {
      kind: 'text',
      x: PLOT.right + 3,
      y: place + 2.5,
      text: `${thresholdBar.toFixed(2)} bar`,
      size: 7,
      ink: 'ink',
      anchor: 'start',
    },
  ];
}

/** Marks along the foot, each with its words beneath. */
export function footLabels(labels: readonly { x: number; text: string }[], bottom: number): Shape[] {
  return labels.flatMap(({ x, text }): Shape[] => [
    {
      kind: 'line',
      points: [
        [x, bottom],
        [x, bottom + 3],
      ],
      ink: 'faint',
      width: 0.5,
    },
    { kind: 'text', x, y: bottom + 11, text, size: 7, ink: 'faint', anchor: 'middle' },
  ]);
}

/** A line of words beneath a picture. */
export function legendLine(text: string, y: number): Shape {
  return { kind: 'text', x: PLOT.left, y, text, size: 6.5, ink: 'faint', anchor: 'start' };
}

function across(y: number, from: number, to: number, ink: 'rule' | 'faint' | 'ink', width: number) {
  return {
    kind: 'line',
    points: [
      [from, y],
      [to, y],
    ],
    ink,
    width,
  } as const;
}
