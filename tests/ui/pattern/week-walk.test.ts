import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { walk } from '../../../ui/pattern/week-walk.ts';

describe('walking through the week with keys', () => {
  it('goes by day across and by hour down, or the other way about on a wide screen', () => {
    const tuesday = { day: 1, hour: 7 };
    expect(walk('ArrowRight', tuesday, 'days')).toEqual({ day: 2, hour: 7 });
    expect(walk('ArrowDown', tuesday, 'days')).toEqual({ day: 1, hour: 8 });
    expect(walk('ArrowRight', tuesday, 'hours')).toEqual({ day: 1, hour: 8 });
    expect(walk('ArrowUp', tuesday, 'hours')).toEqual({ day: 0, hour: 7 });
  });

  it('to the ends of a row', () => {
    expect(walk('Home', { day: 3, hour: 7 }, 'days')).toEqual({ day: 0, hour: 7 });
    expect(walk('End', { day: 3, hour: 7 }, 'days')).toEqual({ day: 6, hour: 7 });
    expect(walk('End', { day: 3, hour: 7 }, 'hours')).toEqual({ day: 3, hour: 23 });
  });

  it('never out of the table, and other keys are left to the browser', () => {
    expect(walk('Tab', { day: 0, hour: 0 }, 'days')).toBeUndefined();
    const keys = fc.constantFrom('ArrowLeft', 'ArrowRight', 'ArrowUp', 'ArrowDown', 'Home', 'End');
    fc.assert(
      fc.property(fc.array(keys), fc.constantFrom('days' as const, 'hours' as const), (pressed, across) => {
        let place = { day: 3, hour: 12 };
        for (const key of pressed) place = walk(key, place, across)!;
        expect(place.day >= 0 && place.day < 7 && place.hour >= 0 && place.hour < 24).toBe(true);
      }),
    );
  });
});
