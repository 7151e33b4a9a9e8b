import { type FaultLabel, type Rows, withFaults } from './faults.ts';
import { House, type PumpRun, type TrueColumns } from './house.ts';
import type { Scenario } from './scenario.ts';
import { Sensor } from './sensor.ts';
import { siteOf, truthOf } from './truth/truth.ts';

export interface ScenarioRun {
  readonly scenario: Scenario;
  readonly rows: Rows;
  readonly columns: TrueColumns;
  readonly faultLabels: readonly FaultLabel[];
  /** When each row truly arrives, ascending. */
  readonly arrivedMs: Float64Array;
  /** Content of the labels' file. */
  readonly truth: Record<string, unknown>;
  /** Content of SITE.json. */
  readonly site: Record<string, unknown>;
}

/** Simulates the whole scenario in memory: about 60 bytes a second simulated. Pure and repeatable. */
export function runScenario(scenario: Scenario): ScenarioRun {
  const seconds = Math.round((scenario.endMs - scenario.startMs) / 1000);
  const columns = withoutUnfitted(new House(scenario.house, scenario.startMs).next(seconds), scenario);
  const clean = readings(scenario, columns);
  const { rows, labels, arrivedMs } = withFaults(
    clean,
    scenario.faults,
    scenario.intervalS,
    scenario.stampJitterMs,
    scenario.seed,
  );
  return {
    scenario,
    rows,
    columns,
    faultLabels: labels,
    arrivedMs,
    truth: truthOf(scenario, columns, rows, labels),
    site: siteOf(scenario),
  };
}

/** Readings at the logging interval: pressure of the instant, flow as the mean over the interval that ends there. */
export function readings(scenario: Scenario, columns: TrueColumns): Rows {
  const { intervalS, channels, seed } = scenario;
  const count = Math.ceil(columns.pressureBar.length / intervalS);
  const sensor = new Sensor(scenario.sensor, seed, 'pressure');
  const inletSensor = new Sensor(scenario.sensor, seed, 'inlet');
  const timeMs = new Float64Array(count);
  const pressureBar = new Float64Array(count);
  const flowLpm = channels.flow ? new Float64Array(count) : undefined;
  const pumpOn = channels.pump ? new Float64Array(count) : undefined;
  const inletBar = channels.inlet ? new Float64Array(count) : undefined;
  for (let row = 0; row < count; row++) {
    const at = row * intervalS;
    timeMs[row] = columns.startMs + at * 1000;
    pressureBar[row] = sensor.read(columns.pressureBar[at]!);
    if (flowLpm) {
      const from = Math.max(0, at - intervalS + 1);
      let sum = 0;
      for (let i = from; i <= at; i++) sum += columns.ownLpm[i]!;
      flowLpm[row] = sum / (at + 1 - from);
    }
    if (pumpOn) pumpOn[row] = columns.pumpOn?.[at] ?? 0;
    if (inletBar) inletBar[row] = inletSensor.read(columns.inletBar?.[at] ?? columns.standingBar[at]!);
  }
  return { timeMs, pressureBar, flowLpm, pumpOn, inletBar };
}

/** A run that began before the span isn't a start within it. */
function withoutUnfitted(columns: TrueColumns, scenario: Scenario): TrueColumns {
  const runs: readonly PumpRun[] = columns.pumpRuns.filter((run) => run.startMs >= scenario.startMs);
  return { ...columns, pumpRuns: runs };
}
