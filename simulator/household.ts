import * as published from './end-uses.ts';
import type { LocalDay } from './local-day.ts';
import { RandomStream } from './random.ts';

export const USES = [
  'shower',
  'bath',
  'wc',
  'kitchen_tap',
  'bathroom_tap',
  'washing_machine',
  'dishwasher',
  'garden_tap',
  'hose',
  'pool',
] as const;
export type Use = (typeof USES)[number];

/** One opening of one outlet. It passes `coefficient`·√(p − height) l/min when fully open. */
export interface PlannedDraw {
  readonly use: Use;
  readonly startMs: number;
  /** l/min per √bar. */
  readonly coefficient: number;
  /** Height of the outlet above the logger, as pressure. */
  readonly heightBar: number;
  /** It ends after a time, or when so much has run in; never later than `mostSeconds`. */
  readonly limit:
    | { readonly kind: 'seconds'; readonly seconds: number }
    | { readonly kind: 'litres'; readonly litres: number };
  readonly mostSeconds: number;
  readonly openS: number;
  readonly closeS: number;
  /** A float valve throttles as its cistern fills. */
  readonly floatValve: boolean;
}

/** Extra long draws, on top of the everyday ones. */
export interface LongDraw {
  readonly use: 'hose' | 'pool';
  readonly probability: number;
  readonly startHour: readonly [number, number];
  readonly minutes: readonly [number, number];
  readonly flowLpm: readonly [number, number];
}

export interface HouseholdPlan {
  readonly seed: number;
  readonly people: number;
  readonly region: published.Region;
  /** Running pressure at which outlets pass the published flows. */
  readonly designBar: number;
  /** Height of the upper floor's outlets above the logger, in bar. */
  readonly upstairsBar: number;
  readonly gardenTap: boolean;
  /** Multiplies how often people use water; 1 is the published mean. */
  readonly eagerness: number;
  readonly longDraws: readonly LongDraw[];
  /** Nobody at home. */
  readonly away?: boolean;
}

interface PersonDay {
  readonly wake: number;
  readonly leave: number;
  readonly back: number;
  readonly sleep: number;
}

const MOST_SECONDS_A_DRAW = 3 * 3600;
/** Durations vary about their mean; log-normal by the published model, this coefficient of variation is our choice. */
const DURATION_VARIATION = 0.8;

/** The household's openings of one local day, by start. The same plan and day give the same openings. */
export function plannedDraws(plan: HouseholdPlan, day: LocalDay): PlannedDraw[] {
  if (plan.away || plan.people < 1) return [];
  const draws: PlannedDraw[] = [];
  const size = Math.min(5, plan.people) - 1;
  const weekend = day.weekday >= 6;
  const add = (
    use: Use,
    hour: number,
    flowLpm: number,
    limit: PlannedDraw['limit'],
    random: RandomStream,
    extra: Partial<PlannedDraw> = {},
  ): void => {
    const startMs = day.at(hour) + random.integer(0, 999);
    draws.push(drawOf(plan, use, startMs, flowLpm, limit, random, extra));
  };

  for (let person = 0; person < plan.people; person++) {
    const random = new RandomStream(plan.seed, 'person', person, day.date);
    const rhythm = personDay(random, weekend, person);
    const awakeHour = (): number => hourAwake(random, rhythm);

    const shower = published.SHOWER[plan.region];
    if (random.chance(shower.perPersonDay * plan.eagerness)) {
      const morning = random.chance(0.7);
      const hour = morning
        ? rhythm.wake + random.uniform(0.1, 0.6)
        : random.uniform(Math.min(rhythm.back + 0.5, rhythm.sleep - 1), rhythm.sleep - 0.3);
      const seconds = Math.max(
        90,
        (random.chiSquare(Math.round(shower.meanMinutes)) * (60 * shower.meanMinutes)) / Math.round(shower.meanMinutes),
      );
      add('shower', hour, random.pick(shower.flowsLpm), { kind: 'seconds', seconds }, random);
    }
    const bath = published.BATH[plan.region];
    if (random.chance(bath.perPersonDay * plan.eagerness)) {
      add('bath', random.uniform(18, 21.5), bath.flowLpm, { kind: 'litres', litres: bath.litres }, random);
    }
    const flushes = random.poisson(published.WC[plan.region].perPersonDay * plan.eagerness);
    const cisternLitres = published.WC_LITRES[new RandomStream(plan.seed, 'cistern').integer(0, 1)]!;
    for (let i = 0; i < flushes; i++) {
      const hour = random.chance(0.06) ? random.uniform(0.5, 5) : awakeHour();
      add('wc', hour, published.WC_FLOW_LPM, { kind: 'litres', litres: cisternLitres }, random, {
        floatValve: true,
        openS: 1,
        closeS: 1,
      });
    }
    const washes = random.poisson(published.BATHROOM_TAP_PER_PERSON_DAY * plan.eagerness);
    for (let i = 0; i < washes; i++) {
      const kind = published.BATHROOM_TAP_USES[random.weighted(published.BATHROOM_TAP_USES.map((use) => use.share))]!;
      add('bathroom_tap', awakeHour(), random.uniform(0, kind.maxLpm), tapSeconds(random, kind.meanS), random);
    }
    if (plan.gardenTap) {
      const waterings = random.poisson(published.GARDEN_TAP_PER_PERSON_DAY * plan.eagerness);
      for (let i = 0; i < waterings; i++) {
        const kind = published.GARDEN_TAP_USES[random.weighted(published.GARDEN_TAP_USES.map((use) => use.share))]!;
        const hour = random.chance(0.6) ? random.uniform(17.5, 21) : random.uniform(8, 17);
        add('garden_tap', hour, random.uniform(0, kind.maxLpm), tapSeconds(random, kind.meanS), random, {
          heightBar: 0,
        });
      }
    }
  }

  const home = new RandomStream(plan.seed, 'home', day.date);
  const firstUp = personDay(new RandomStream(plan.seed, 'person', 0, day.date), weekend, 0);
  const mean = published.KITCHEN_PER_DAY[size]! * plan.eagerness;
  const kitchenUses = negativeBinomial(home, mean, published.KITCHEN_SIGMA[size]!);
  for (let i = 0; i < kitchenUses; i++) {
    const kind = published.KITCHEN_USES[home.weighted(published.KITCHEN_USES.map((use) => use.share))]!;
    const hour = [
      () => firstUp.wake + home.uniform(0.1, 1.2),
      () => home.uniform(11.8, 13.5),
      () => home.uniform(17, 19.8),
      () => hourAwake(home, firstUp),
    ][home.weighted([0.25, 0.15, 0.35, 0.25])]!();
    add('kitchen_tap', hour, home.uniform(0, kind.maxLpm), tapSeconds(home, kind.meanS), home, { heightBar: 0 });
  }
  addMachine(
    'washing_machine',
    published.WASHING_MACHINE_PER_PERSON_DAY[size]!,
    published.WASHING_MACHINE_FILLS,
    [7.5, 19],
  );
  addMachine('dishwasher', published.DISHWASHER_PER_PERSON_DAY[size]!, published.DISHWASHER_FILLS, [18.5, 21.8]);
  for (const long of plan.longDraws) {
    if (!home.chance(long.probability)) continue;
    const seconds = home.uniform(...long.minutes) * 60;
    add(long.use, home.uniform(...long.startHour), home.uniform(...long.flowLpm), { kind: 'seconds', seconds }, home, {
      heightBar: 0,
      openS: home.uniform(1, 2.5),
      closeS: home.uniform(1, 2.5),
    });
  }
  return draws.sort((a, b) => a.startMs - b.startMs);

  function addMachine(
    use: Use,
    perPersonDay: number,
    fills: readonly { atS: number; seconds: number }[],
    hours: readonly [number, number],
  ): void {
    const runs = home.poisson(perPersonDay * plan.people * plan.eagerness);
    for (let run = 0; run < runs; run++) {
      const hour = home.uniform(...hours);
      for (const fill of fills) {
        // Machines take in a set quantity: a weak supply makes the fill longer.
        const litres = (published.MACHINE_FLOW_LPM * fill.seconds) / 60;
        add(use, hour + fill.atS / 3600, published.MACHINE_FLOW_LPM, { kind: 'litres', litres }, home, {
          heightBar: 0,
          openS: 0.2,
          closeS: 0.1,
        });
      }
    }
  }
}

function drawOf(
  plan: HouseholdPlan,
  use: Use,
  startMs: number,
  flowLpm: number,
  limit: PlannedDraw['limit'],
  random: RandomStream,
  extra: Partial<PlannedDraw>,
): PlannedDraw {
  const heightBar = extra.heightBar ?? plan.upstairsBar;
  const drivingBar = Math.max(0.2, plan.designBar - heightBar);
  return {
    use,
    startMs,
    coefficient: Math.max(0.2, flowLpm) / Math.sqrt(drivingBar),
    heightBar,
    limit,
    mostSeconds: MOST_SECONDS_A_DRAW,
    openS: random.uniform(0.5, 1.8),
    closeS: random.uniform(0.5, 1.8),
    floatValve: false,
    ...extra,
  };
}

function tapSeconds(random: RandomStream, meanS: number): PlannedDraw['limit'] {
  return { kind: 'seconds', seconds: Math.max(2, random.logNormal(meanS, DURATION_VARIATION)) };
}

/** Getting up 07:00 with a standard deviation of 1 h, leaving 08:30 with 0.5 h (as noted in the published files). */
function personDay(random: RandomStream, weekend: boolean, person: number): PersonDay {
  const wake = clamp(random.normal(weekend ? 8.4 : 7 - (person === 0 ? 0.3 : 0), weekend ? 1 : 0.7), 5, 11);
  const staysHome = weekend || random.chance(0.3);
  const leave = staysHome ? 13 : Math.max(wake + 0.5, random.normal(8.5, 0.5));
  const back = staysHome ? 13 : clamp(random.normal(17.3, 1), leave + 1, 21);
  return { wake, leave, back, sleep: clamp(random.normal(22.8, 0.6), 21.5, 23.9) };
}

function hourAwake(random: RandomStream, person: PersonDay): number {
  const spans = [
    { from: person.wake, to: person.wake + 0.6, weight: 0.22 },
    { from: person.wake + 0.6, to: person.leave, weight: 0.1 * Math.max(0, person.leave - person.wake - 0.6) },
    { from: person.back, to: person.sleep - 0.7, weight: 0.1 * Math.max(0, person.sleep - 0.7 - person.back) },
    { from: person.sleep - 0.7, to: person.sleep, weight: 0.18 },
  ];
  const span = spans[random.weighted(spans.map((one) => one.weight))]!;
  return random.uniform(span.from, Math.max(span.from, span.to));
}

/** Negative binomial with that mean and standard deviation, as a Poisson of a gamma (here of a scaled chi-square). */
function negativeBinomial(random: RandomStream, mean: number, sd: number): number {
  const excess = sd * sd - mean;
  if (excess <= 0) return random.poisson(mean);
  const shape = (mean * mean) / excess;
  const degrees = Math.max(1, Math.round(2 * shape));
  return random.poisson((mean * random.chiSquare(degrees)) / degrees);
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
