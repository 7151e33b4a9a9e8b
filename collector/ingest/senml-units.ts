import type { Channel } from '../model/channel.ts';
import { isUnitOf, type LinearMap } from '../model/units.ts';

interface KnownUnit {
  /** Unit of ours in which the value is kept. */
  readonly unit: string;
  /** From the value as sent to that unit; identity where ours is the registry's. */
  readonly map: LinearMap;
}

const same = (unit: string): KnownUnit => ({ unit, map: { gain: 1, offset: 0 } });
const times = (unit: string, gain: number): KnownUnit => ({ unit, map: { gain, offset: 0 } });

/**
 * Units of the SenML registry (RFC 8428 section 12.1; secondary units of RFC 8798, names from memory) that can be a
 * channel's. `/` and `%` are ratios from 0 to 1 there, `%EL` and `/100` are per cent.
 */
const REGISTRY: Readonly<Record<Channel, Readonly<Record<string, KnownUnit>>>> = {
  pressure: {
    Pa: same('Pa'),
    hPa: same('hPa'),
    V: same('V'),
    mV: same('mV'),
    A: times('mA', 1000),
    mA: same('mA'),
    count: same('counts'),
  },
  flow: { 'm3/s': same('m3/s'), 'm3/h': same('m3/h'), 'l/s': same('l/s') },
  pump: { '/': same('on/off') },
  temperature: { Cel: same('degC'), K: same('K') },
  battery: {
    V: same('V'),
    mV: same('mV'),
    '%EL': same('percent'),
    '/100': same('percent'),
    '/': times('percent', 100),
    '%': times('percent', 100),
  },
  signal: {
    dBm: same('dBm'),
    dBW: { unit: 'dBm', map: { gain: 1, offset: 30 } },
    '/100': same('percent'),
    '/': times('percent', 100),
    '%': times('percent', 100),
  },
};

/**
 * What a record's unit is to us, or undefined. Besides the registry's, our own names are understood: `bar` and `kPa`
 * are not SenML, but what they mean is beyond doubt.
 */
export function senmlUnit(channel: Channel, unit: string): KnownUnit | undefined {
  const table = REGISTRY[channel];
  if (Object.hasOwn(table, unit)) return table[unit];
  return isUnitOf(channel, unit) ? same(unit) : undefined;
}
