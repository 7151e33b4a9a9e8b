import type { Palette } from './chart-paint.ts';

/** The theme's colours as the style sheet gives them now: a canvas can't read custom properties by itself. */
export function readPalette(element: Element): Palette {
  const style = getComputedStyle(element.isConnected ? element : document.documentElement);
  const colour = (name: string) => style.getPropertyValue(`--${name}`).trim();
  return {
    ink: colour('ink'),
    quiet: colour('quiet'),
    hair: colour('hair'),
    night: colour('night'),
    water: colour('water'),
    soft: colour('soft'),
    band: colour('band'),
    edge: colour('edge'),
    earth: colour('earth'),
    paper: colour('paper'),
    font: 'system-ui, sans-serif',
  };
}
