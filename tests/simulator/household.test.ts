import { describe, expect, it } from 'vitest';
import { type HouseholdPlan, type PlannedDraw, plannedDraws, type Use } from '../../simulator/household.ts';
import { LocalCalendar } from '../../simulator/local-day.ts';

const CALENDAR = new LocalCalendar('Europe/Amsterdam');
const WEEK_MS = 7 * 86_400_000;
const FIRST_MS = Date.UTC(2026, 4, 3, 22);

const plan = (seed: number, changes: Partial<HouseholdPlan> = {}): HouseholdPlan => ({
  seed,
  people: 2,
  region: 'NL',
  designBar: 2.5,
  upstairsBar: 0.3,
  gardenTap: false,
  eagerness: 1,
  longDraws: [],
  ...changes,
});

const designLpm = (draw: PlannedDraw): number => draw.coefficient * Math.sqrt(2.5 - draw.heightBar);
const litres = (draw: PlannedDraw): number =>
  draw.limit.kind === 'litres' ? draw.limit.litres : (designLpm(draw) * draw.limit.seconds) / 60;

/** Weeks of many households. */
function drawsOf(changes: Partial<HouseholdPlan>, households = 120): { draws: PlannedDraw[]; days: number } {
  const draws: PlannedDraw[] = [];
  for (let seed = 1; seed <= households; seed++) {
    for (const day of CALENDAR.days(FIRST_MS, FIRST_MS + WEEK_MS))
      draws.push(...plannedDraws(plan(seed, changes), day));
  }
  return { draws, days: households * 7 };
}

describe('household', () => {
  const { draws, days } = drawsOf({});
  const personDays = days * 2;
  const of = (use: Use): PlannedDraw[] => draws.filter((draw) => draw.use === use);

  // Uses per person-day and mean litres of a use, Netherlands set (SIMDEUM family; Blokker et al. 2010 and the parameter
  // files of the open port): shower 0.72 of 8.8 min at 8.5 or 7.4 l/min; bath 0.043 of 120 l; WC 5.9 of 9 or 6 l; bathroom
  // tap 4.1 of 40 s (a third) or 15 s at up to 5 l/min; kitchen tap 12.7 a household-day for two; washing machine 0.29 of
  // 50.2 l in four fills; dishwasher 0.2286 of 14.0 l in four fills.
  it.each([
    ['shower', 0.72, 69.96, 0.05],
    ['bath', 0.043, 120, 0.3],
    ['wc', 5.9, 7.5, 0.1],
    ['bathroom_tap', 4.1, ((40 / 3 + 30 / 3) / 60) * 2.5, 0.1],
    ['kitchen_tap', 12.7 / 2, (0.375 * 15 * 5 + 0.25 * 45 * 7.5 + 0.25 * 13 * 5 + 0.125 * 37 * 5) / 60, 0.1],
    ['washing_machine', 4 * 0.29, 50.2 / 4, 0.15],
    ['dishwasher', 4 * 0.2286, 14 / 4, 0.15],
  ] as const)(
    '%s: uses a person-day and litres a use are the published ones',
    (use, perPersonDay, meanLitres, within) => {
      const uses = of(use);
      expect(Math.abs(uses.length / personDays / perPersonDay - 1)).toBeLessThan(within);
      const mean = uses.reduce((sum, draw) => sum + litres(draw), 0) / uses.length;
      expect(Math.abs(mean / meanLitres - 1)).toBeLessThan(0.1);
    },
  );

  it('the day’s total a person is the sum of the published uses', () => {
    const published = 0.72 * 69.96 + 0.043 * 120 + 5.9 * 7.5 + 4.1 * 0.972 + 6.35 * 2.531 + 0.29 * 50.2 + 0.2286 * 14;
    const total = draws.reduce((sum, draw) => sum + litres(draw), 0) / personDays;
    expect(Math.abs(total / published - 1)).toBeLessThan(0.08);
  });

  // United Kingdom set: bath 0.19 a person-day of 80 l; shower 0.63 of 7.5 min at 13.0 or 8.0 l/min; WC 5.
  it('the United Kingdom set bathes more and showers harder', () => {
    const uk = drawsOf({ region: 'UK' });
    const count = (use: Use): number => uk.draws.filter((draw) => draw.use === use).length / uk.days / 2;
    expect(count('bath')).toBeCloseTo(0.19, 1);
    expect(Math.abs(count('shower') / 0.63 - 1)).toBeLessThan(0.08);
    expect(Math.abs(count('wc') / 5 - 1)).toBeLessThan(0.05);
  });

  // Main use 06–10 and 16–20, next to nothing at night (teaching text on diurnal demand).
  it('draws little at night and most in the morning and evening', () => {
    const byHour = new Array<number>(24).fill(0);
    for (const draw of draws) byHour[new Date(draw.startMs + 2 * 3_600_000).getUTCHours()]! += litres(draw);
    const total = byHour.reduce((a, b) => a + b, 0);
    const share = (from: number, to: number): number => byHour.slice(from, to).reduce((a, b) => a + b, 0) / total;
    expect(share(1, 5)).toBeLessThan(0.05);
    expect(share(6, 10) + share(16, 22)).toBeGreaterThan(0.55);
  });

  it('repeats by seed and day, alone or among other days', () => {
    const day = CALENDAR.dayOf(FIRST_MS + 3 * 86_400_000);
    expect(plannedDraws(plan(5), day)).toEqual(plannedDraws(plan(5), day));
    expect(plannedDraws(plan(5), day)).not.toEqual(plannedDraws(plan(6), day));
  });

  it('nobody at home draws nothing', () => {
    expect(drawsOf({ away: true }, 3).draws).toHaveLength(0);
  });
});

describe('days by the site’s clock', () => {
  // The zone's rules: last Sundays of March and October, 01:00 UTC (Directive 2000/84/EC).
  it.each([
    ['2026-03-29', 23],
    ['2026-05-04', 24],
    ['2026-10-25', 25],
  ])('%s has %i hours', (date, hours) => {
    const calendar = new LocalCalendar('Europe/London');
    const day = calendar.dayOf(Date.parse(`${date}T12:00:00Z`));
    expect(day.date).toBe(date);
    expect((day.endMs - day.startMs) / 3_600_000).toBe(hours);
    expect(day.at(24)).toBe(day.endMs);
    const shown = new Intl.DateTimeFormat('en-GB', { timeZone: 'Europe/London', hour: '2-digit', minute: '2-digit' });
    for (const hour of [0, 5, 7.5, 13, 23]) {
      const text = `${String(Math.floor(hour)).padStart(2, '0')}:${hour % 1 === 0.5 ? '30' : '00'}`;
      expect(shown.format(day.at(hour))).toBe(text);
    }
  });
});
