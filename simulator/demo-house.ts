import type { Channel } from '../collector/model/channel.ts';
import type { DemoLogger, DemoProperty } from './demo-properties.ts';
import { House, type TrueColumns } from './house.ts';
import { Sensor } from './sensor.ts';
import { DAY_MS } from './street-noise.ts';

/** Run-in before a re-entry: by then no draw is left that began before it and the vessel has found its state. */
const RUN_IN_MS = 3 * 3_600_000;
/** A re-entry lies at least so long before the moment asked for. */
const LEAST_BEFORE_MS = 6 * 3_600_000;
const PRESSURE_STEP_BAR = 0.001;

/**
 * Where the simulation may be entered again to go on at `atMs`: a UTC midnight. History is written from here too at its
 * end, so what follows live is the same run of events.
 */
export function reentryBefore(atMs: number): number {
  return Math.floor((atMs - LEAST_BEFORE_MS) / DAY_MS) * DAY_MS;
}

/** A demo house that stands at `atMs`, run in from the re-entry before. */
export function houseAt(property: DemoProperty, plannedAtMs: number, reentryMs: number, atMs: number): House {
  const house = new House(property.plan(plannedAtMs), reentryMs - RUN_IN_MS);
  house.next(Math.round((atMs - reentryMs + RUN_IN_MS) / 1000));
  return house;
}

/** What a property's loggers send for a stretch of true seconds. */
export class DemoSensors {
  private readonly property: DemoProperty;
  private readonly sensors = new Map<string, Sensor>();

  constructor(property: DemoProperty, name: string) {
    this.property = property;
    for (const logger of property.loggers) {
      for (const channel of logger.channels) {
        if (channel.channel !== 'pressure') continue;
        const plan = {
          rangeBar: channel.rangeBar ?? ([0, 10] as const),
          accuracyBar: channel.accuracyBar ?? 0.1,
          offsetBar: property.offsetBar,
          noiseBar: property.noiseBar,
          stepBar: PRESSURE_STEP_BAR,
        };
        this.sensors.set(logger.id, new Sensor(plan, property.seed, `${logger.id}/${name}`));
      }
    }
  }

  /** One value a second, in the channel's unit; pump is 0 or 1. */
  read(logger: DemoLogger, channel: Channel, columns: TrueColumns): Float64Array {
    if (channel === 'pump') return columns.pumpOn ?? new Float64Array(columns.pressureBar.length);
    const sensor = this.sensors.get(logger.id);
    if (!sensor) throw new RangeError(`${logger.id} of ${this.property.name} has no ${channel}`);
    const before = logger.position === 'pump_inlet' && columns.inletBar ? columns.inletBar : columns.pressureBar;
    // Exact thousandths, so that the store keeps them as steps of one thousandth.
    return before.map((bar) => Math.round(sensor.read(bar) * 1000) / 1000);
  }
}
