import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { CELL, CellSums, closeCells } from '../../../../api/analysis/supply/standing-cells.ts';

const STEP_MS = 10_000;
/** Some eight days of cells: more than are summed at a time. */
const CELLS = 70_000;

describe('cells of a log from its parts', () => {
  it('are those of one sum over all of it, wherever the parts meet', () => {
    const meeting = fc.uniqueArray(fc.integer({ min: 1, max: CELLS - 1 }), { maxLength: 6 });
    fc.assert(
      fc.property(meeting, (cuts) => {
        const bounds = [0, ...cuts.sort((a, b) => a - b), CELLS - 1];
        const whole = new CellSums(0, 0, (CELLS - 1) * STEP_MS, STEP_MS);
        // Neighbours share the cell in which they meet.
        const parts = bounds.slice(1).map((to, i) => {
          const from = bounds[i]!;
          const part = new CellSums(0, from * STEP_MS, to * STEP_MS, STEP_MS);
          for (let cell = from; cell <= to; cell += 997) {
            for (const [sums, at] of [[part, cell - from] as const, [whole, cell] as const]) {
              if (cell % 3 === 0) sums.addCarried(at, 1 + cell / CELLS, 1e-4, 0, 0.2);
              else sums.addSeen(at, 2 + cell / CELLS);
            }
          }
          part.addHidden(to - from);
          whole.addHidden(to);
          return part;
        });
        const endMs = (CELLS - 1) * STEP_MS;
        const together = closeCells(parts, endMs, 0.005, 0.002, 0.07);
        const atOnce = closeCells([whole], endMs, 0.005, 0.002, 0.07);
        expect(together.count).toBe(CELLS);
        expect(Buffer.from(together.state).equals(Buffer.from(atOnce.state))).toBe(true);
        for (let cell = 0; cell < CELLS; cell++) {
          if (together.state[cell] === CELL.absent || together.state[cell] === CELL.hidden) continue;
          if (Math.abs(together.bar[cell]! - atOnce.bar[cell]!) > 1e-12) throw new Error(`cell ${cell}`);
          if (together.sdBar[cell] !== atOnce.sdBar[cell]) throw new Error(`deviation of cell ${cell}`);
        }
      }),
      { numRuns: 20 },
    );
  });
});
