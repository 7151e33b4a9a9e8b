import { Problem } from '../collector/model/problem.ts';
import { DEFAULT_THRESHOLDS } from '../collector/model/site.ts';
import { BOOSTER_SCENARIOS } from './booster-scenarios.ts';
import { soundSensor } from './drawn-parts.ts';
import { HOUSEHOLD_SCENARIOS } from './household-scenarios.ts';
import { LocalCalendar } from './local-day.ts';
import { LOGGING_SCENARIOS } from './logging-scenarios.ts';
import type { Drawn, NamedScenario, Setting } from './named-scenario.ts';
import { RandomStream } from './random.ts';
import type { Scenario } from './scenario.ts';
import { STREET_SCENARIOS } from './street-scenarios.ts';

export const SCENARIOS = {
  ...HOUSEHOLD_SCENARIOS,
  ...STREET_SCENARIOS,
  ...LOGGING_SCENARIOS,
  ...BOOSTER_SCENARIOS,
} as const satisfies Record<string, NamedScenario>;

export type ScenarioName = keyof typeof SCENARIOS;
export const SCENARIO_NAMES = Object.keys(SCENARIOS) as ScenarioName[];

export function isScenarioName(name: string): name is ScenarioName {
  return Object.hasOwn(SCENARIOS, name);
}

export interface ScenarioRequest {
  readonly days: number;
  readonly seed: number;
  /** Replaces the scenario's own logging interval. */
  readonly intervalS?: number | undefined;
  /** Start instead of the scenario's own; else a local midnight in 2026. */
  readonly startMs?: number | undefined;
}

const FIRST_DAY_MS = Date.UTC(2026, 4, 4, 12);
const SPREAD_OVER_DAYS = 84;
const DAY_MS = 86_400_000;

/**
 * The named scenario with everything drawn from the seed. Problem `option_wrong` where there is none of that name.
 */
export function drawScenario(name: string, request: ScenarioRequest): Scenario {
  if (!isScenarioName(name)) {
    throw new Problem(
      'option_wrong',
      `There is no scenario "${name.slice(0, 80)}".`,
      `Names: ${SCENARIO_NAMES.join(', ')}.`,
    );
  }
  const named: NamedScenario = SCENARIOS[name];
  const { seed, days } = request;
  const random = new RandomStream(seed, name);
  const timeZone = named.timeZone ?? 'Europe/London';
  const calendar = new LocalCalendar(timeZone);
  const noon = named.about
    ? Date.parse(`${named.about}T12:00:00Z`) - Math.floor(days * 0.6) * DAY_MS
    : FIRST_DAY_MS + random.integer(0, SPREAD_OVER_DAYS - 1) * DAY_MS;
  const startMs = request.startMs ?? calendar.dayOf(noon).startMs;
  // Whole local days, whatever their length; a start of the caller's own is followed by days of 24 hours.
  const endMs =
    request.startMs === undefined
      ? calendar.dayOf(startMs + days * DAY_MS + DAY_MS / 2).startMs
      : startMs + Math.round(days * 86_400) * 1000;
  const setting: Setting = {
    random,
    seed,
    startMs,
    endMs,
    timeZone,
    part: (share) => startMs + Math.round((share * (endMs - startMs)) / 60_000) * 60_000,
  };
  const drawn = named.draw(setting);
  return {
    name,
    seed,
    startMs,
    endMs,
    timeZone,
    position: drawn.house.position,
    sensor: drawn.sensor ?? soundSensor(random),
    channels: { flow: false, pump: false, inlet: false },
    thresholds: DEFAULT_THRESHOLDS,
    faults: [],
    stampJitterMs: 0,
    causes: [],
    changes: [],
    ...withoutUndefined(drawn),
    house: drawn.house,
    intervalS: request.intervalS ?? drawn.intervalS ?? 1,
  };
}

function withoutUndefined(drawn: Drawn): Partial<Scenario> {
  return Object.fromEntries(Object.entries(drawn).filter(([, value]) => value !== undefined));
}
