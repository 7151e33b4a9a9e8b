import type { Position } from '../collector/model/channel.ts';
import type { PumpSetting } from '../collector/model/pump-setting.ts';
import type { Thresholds } from '../collector/model/site.ts';
import type { HousePlan } from './house.ts';
import type { SensorPlan } from './sensor.ts';

export const CYCLING_CAUSES = ['leak', 'check_valve', 'lost_precharge', 'narrow_differential'] as const;
export type CyclingCause = (typeof CYCLING_CAUSES)[number];

/** What goes wrong between the transducer and the file. Times are true times. */
export type FaultPlan =
  | {
      readonly kind: 'gap' | 'stuck' | 'out_of_range';
      readonly startMs: number;
      readonly endMs: number;
      readonly bar?: number;
    }
  | { readonly kind: 'spike'; readonly atMs: number; readonly byBar: number }
  | { readonly kind: 'offset_step'; readonly atMs: number; readonly byBar: number }
  | { readonly kind: 'clock_jump'; readonly startMs: number; readonly endMs: number; readonly byMs: number }
  | { readonly kind: 'duplicate'; readonly startMs: number; readonly endMs: number }
  | { readonly kind: 'late'; readonly startMs: number; readonly endMs: number; readonly delayS: number }
  | { readonly kind: 'out_of_order'; readonly startMs: number; readonly endMs: number };

/** A change that lasts, as the scenario made it; its sizes are measured on what was simulated. */
export interface PlannedChange {
  readonly kind: 'supply' | 'property' | 'booster' | 'sensor';
  readonly atMs: number;
}

/** One house over one span, with everything drawn: the same scenario makes the same file. */
export interface Scenario {
  readonly name: string;
  readonly seed: number;
  readonly startMs: number;
  readonly endMs: number;
  readonly intervalS: number;
  readonly timeZone: string;
  readonly position: Position;
  readonly house: HousePlan;
  readonly sensor: SensorPlan;
  readonly channels: { readonly flow: boolean; readonly pump: boolean; readonly inlet: boolean };
  readonly thresholds: Thresholds;
  readonly faults: readonly FaultPlan[];
  /** Stamps are those of arrival: up to so many milliseconds after the reading, never in disorder. */
  readonly stampJitterMs: number;
  /** What the owner has told of the pump. */
  readonly pump?: PumpSetting;
  readonly causes: readonly CyclingCause[];
  readonly changes: readonly PlannedChange[];
}
