import type { Bar } from './units.ts';

/**
 * `±0.12 bar`: an uncertainty as page, letter and terminal tell it, rounded up to a hundredth so that it never looks
 * smaller than it is. One rule for all of them, so that nobody reads two figures for one thing.
 */
export function plusMinusBar(value: Bar): string {
  return `±${(Math.ceil(value * 100 - 1e-9) / 100).toFixed(2)}\u00a0bar`;
}
