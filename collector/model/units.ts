import type { Channel } from './channel.ts';

/** A pressure in bar, gauge unless the name says otherwise. */
export type Bar = number & { readonly __unit?: 'bar' };
/** A volume flow in litres a minute. */
export type LitresPerMinute = number & { readonly __unit?: 'l/min' };
/** Milliseconds since 1970-01-01T00:00:00Z. */
export type EpochMs = number & { readonly __unit?: 'ms' };

/** Standard gravity in m/s², exact by convention (CGPM 1901). */
export const STANDARD_GRAVITY_M_S2 = 9.80665;
/** Pressure of one conventional metre of water (1000 kg/m³), in bar: 9806.65 Pa. */
export const BAR_PER_METRE_OF_WATER = 0.0980665;
/** Standard atmosphere (ISO 2533): what a gauge pressure lacks to be absolute, unless the place's own is known. */
export const STANDARD_ATMOSPHERE_BAR = 1.01325;
/** One psi in pascal: 0.45359237 kg · 9.80665 m/s² / (0.0254 m)², all exact by definition. */
export const PASCAL_PER_PSI = (0.45359237 * STANDARD_GRAVITY_M_S2) / (0.0254 * 0.0254);

/** Units a channel may be sent in. Raw electrical units need the transducer's end points to mean a pressure. */
export const UNITS = {
  pressure: ['bar', 'mbar', 'Pa', 'hPa', 'kPa', 'MPa', 'psi', 'mH2O', 'V', 'mV', 'mA', 'counts'],
  flow: ['l/min', 'l/s', 'm3/h', 'm3/s'],
  pump: ['on/off'],
  temperature: ['degC', 'degF', 'K'],
  battery: ['V', 'mV', 'percent'],
  signal: ['dBm', 'percent'],
} as const satisfies Record<Channel, readonly string[]>;

export type Unit = (typeof UNITS)[Channel][number];

/** Raw units of a pressure channel: they mean nothing until the transducer's end points are known. */
export const RAW_UNITS = ['V', 'mV', 'mA', 'counts'] as const;

export function isUnitOf(channel: Channel, unit: string): unit is Unit {
  return (UNITS[channel] as readonly string[]).includes(unit);
}

export function isRawUnit(unit: string): boolean {
  return (RAW_UNITS as readonly string[]).includes(unit);
}

/** A straight line `canonical = gain · asSent + offset`. Every conversion we make is one, so they can be chained. */
export interface LinearMap {
  readonly gain: number;
  readonly offset: number;
}

export const IDENTITY: LinearMap = { gain: 1, offset: 0 };

/** First `inner`, then `outer`. */
export function chain(inner: LinearMap, outer: LinearMap): LinearMap {
  return { gain: inner.gain * outer.gain, offset: inner.offset * outer.gain + outer.offset };
}

export function applyMap(map: LinearMap, value: number): number {
  return map.gain * value + map.offset;
}

const PRESSURE_TO_BAR: Record<string, LinearMap> = {
  bar: IDENTITY,
  mbar: { gain: 1e-3, offset: 0 },
  Pa: { gain: 1e-5, offset: 0 },
  hPa: { gain: 1e-3, offset: 0 },
  kPa: { gain: 1e-2, offset: 0 },
  MPa: { gain: 10, offset: 0 },
  psi: { gain: PASCAL_PER_PSI / 1e5, offset: 0 },
  mH2O: { gain: BAR_PER_METRE_OF_WATER, offset: 0 },
};
const FLOW_TO_LPM: Record<string, LinearMap> = {
  'l/min': IDENTITY,
  'l/s': { gain: 60, offset: 0 },
  'm3/h': { gain: 1000 / 60, offset: 0 },
  'm3/s': { gain: 60_000, offset: 0 },
};
const TEMPERATURE_TO_CELSIUS: Record<string, LinearMap> = {
  degC: IDENTITY,
  degF: { gain: 5 / 9, offset: -160 / 9 },
  K: { gain: 1, offset: -273.15 },
};

/**
 * The line from a unit to the channel's canonical unit, or undefined where the unit alone doesn't fix one
 * (V, mA, counts of a pressure transducer need end points; percent stays percent).
 * Factors: NIST SP 811 appendix B.
 */
export function unitMap(channel: Channel, unit: string): LinearMap | undefined {
  switch (channel) {
    case 'pressure':
      return PRESSURE_TO_BAR[unit];
    case 'flow':
      return FLOW_TO_LPM[unit];
    case 'temperature':
      return TEMPERATURE_TO_CELSIUS[unit];
    case 'battery':
      return unit === 'V' ? IDENTITY : unit === 'mV' ? { gain: 1e-3, offset: 0 } : undefined;
    case 'pump':
      return unit === 'on/off' ? IDENTITY : undefined;
    case 'signal':
      return unit === 'dBm' ? IDENTITY : undefined;
    default:
      return channel satisfies never;
  }
}

/** Electrical value and the pressure it stands for; two of them make the transducer's line. */
export interface EndPoint {
  readonly raw: number;
  readonly bar: Bar;
}

/** The line through two end points, or undefined where they share the same raw value. */
export function endPointMap(endPoints: readonly [EndPoint, EndPoint]): LinearMap | undefined {
  const [low, high] = endPoints;
  const span = high.raw - low.raw;
  if (span === 0 || !Number.isFinite(span)) return undefined;
  const gain = (high.bar - low.bar) / span;
  return { gain, offset: low.bar - gain * low.raw };
}

/** Keeps nine significant digits: what a message promises, and far below any transducer's resolution. */
export function toNineSignificantDigits(value: number): number {
  return Number(value.toPrecision(9));
}
