/**
 * A picture as plain shapes, in points (1/72 inch), origin top left. The page of the letter (SVG) and the PDF render the
 * same shapes, so that both show the same picture.
 */
export interface Drawing {
  readonly width: number;
  readonly height: number;
  /** What the picture shows, for those who can't see it. */
  readonly description: string;
  readonly shapes: readonly Shape[];
}

/** The few inks of a letter. Each mark also differs by shape, width, dash or hatch: it must survive a copier. */
export const INKS = {
  ink: '#1b1b1b',
  faint: '#6b6b6b',
  rule: '#c9c9c9',
  night: '#f0efeb',
  band: '#cfcfcf',
  water: '#0b5a8a',
  waterSoft: '#b9d3e2',
  paper: '#ffffff',
  // Of the table of the week, the lower the pressure the darker; text stays readable on each.
  shade1: '#e9f1f5',
  shade2: '#d3e2eb',
  shade3: '#b9d1df',
  shade4: '#9dbfd2',
  shade5: '#7fabc4',
  earth: '#8a4b12',
} as const;
export type Ink = keyof typeof INKS;

export type Shape =
  | {
      readonly kind: 'line';
      readonly points: readonly (readonly [number, number])[];
      readonly ink: Ink;
      readonly width: number;
      readonly dash?: readonly number[];
    }
  | { readonly kind: 'area'; readonly points: readonly (readonly [number, number])[]; readonly ink: Ink }
  | {
      readonly kind: 'box';
      readonly x: number;
      readonly y: number;
      readonly width: number;
      readonly height: number;
      readonly ink: Ink;
    }
  | {
      readonly kind: 'hatch';
      readonly x: number;
      readonly y: number;
      readonly width: number;
      readonly height: number;
      readonly ink: Ink;
      readonly outline: 'solid' | 'dashed';
    }
  | {
      readonly kind: 'text';
      readonly x: number;
      readonly y: number;
      readonly text: string;
      readonly size: number;
      readonly ink: Ink;
      readonly anchor: 'start' | 'middle' | 'end';
    };

/** The strokes of a hatch: lines rising at 45 degrees, `spacing` apart, cut at the box's edges. */
export function hatchStrokes(
  box: { x: number; y: number; width: number; height: number },
  spacing = 4,
): [number, number, number, number][] {
  const strokes: [number, number, number, number][] = [];
  const { x, y, width, height } = box;
  // Each line is x' + y' = c in the box's own coordinates, y' counted upwards from its foot.
  for (let c = spacing / 2; c < width + height; c += spacing) {
    const startX = Math.max(0, c - height);
    const endX = Math.min(width, c);
    if (endX > startX) strokes.push([x + startX, y + height - (c - startX), x + endX, y + height - (c - endX)]);
  }
  return strokes;
}
