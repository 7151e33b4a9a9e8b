import { type Drawing, hatchStrokes, INKS, type Shape } from './drawing.ts';
import { escapeHtml } from './escape-html.ts';

/** A drawing as an SVG element. Colours are attributes, not styles, so that a strict content policy has no objection. */
export function drawingToSvg(drawing: Drawing): string {
  const title = escapeHtml(drawing.description);
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${drawing.width} ${drawing.height}" role="img" aria-label="${title}" font-family="system-ui, sans-serif"><title>${title}</title>${drawing.shapes.map(shapeToSvg).join('')}</svg>`;
}

function shapeToSvg(shape: Shape): string {
  switch (shape.kind) {
    case 'line': {
      const dash = shape.dash ? ` stroke-dasharray="${shape.dash.join(' ')}"` : '';
      return `<polyline points="${pointList(shape.points)}" fill="none" stroke="${INKS[shape.ink]}" stroke-width="${shape.width}" stroke-linejoin="round"${dash}/>`;
    }
    case 'area':
      return `<polygon points="${pointList(shape.points)}" fill="${INKS[shape.ink]}"/>`;
    case 'box':
      return `<rect x="${short(shape.x)}" y="${short(shape.y)}" width="${short(shape.width)}" height="${short(shape.height)}" fill="${INKS[shape.ink]}"/>`;
    case 'hatch': {
      const strokes = hatchStrokes(shape)
        .map(([x1, y1, x2, y2]) => `M${short(x1)} ${short(y1)}L${short(x2)} ${short(y2)}`)
        .join('');
      const dash = shape.outline === 'dashed' ? ' stroke-dasharray="2 1.5"' : '';
      return `<path d="${strokes}" stroke="${INKS[shape.ink]}" stroke-width="0.6" fill="none"/><rect x="${short(shape.x)}" y="${short(shape.y)}" width="${short(shape.width)}" height="${short(shape.height)}" fill="none" stroke="${INKS[shape.ink]}" stroke-width="0.8"${dash}/>`;
    }
    case 'text':
      return `<text x="${short(shape.x)}" y="${short(shape.y)}" font-size="${shape.size}" fill="${INKS[shape.ink]}" text-anchor="${shape.anchor}">${escapeHtml(shape.text)}</text>`;
    default:
      return shape satisfies never;
  }
}

function pointList(points: readonly (readonly [number, number])[]): string {
  return points.map(([x, y]) => `${short(x)},${short(y)}`).join(' ');
}

function short(value: number): string {
  return String(Math.round(value * 100) / 100);
}
