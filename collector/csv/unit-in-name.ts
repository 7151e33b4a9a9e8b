import type { Channel } from '../model/channel.ts';
import { isUnitOf, UNITS, type Unit } from '../model/units.ts';

/** How units are written in column names, where `/` and a capital are often missing. Single letters say too little. */
const SPELLINGS: Readonly<Record<string, Unit>> = {
  bar: 'bar',
  barg: 'bar',
  mbar: 'mbar',
  pa: 'Pa',
  hpa: 'hPa',
  kpa: 'kPa',
  mpa: 'MPa',
  psi: 'psi',
  psig: 'psi',
  mh2o: 'mH2O',
  mv: 'mV',
  ma: 'mA',
  counts: 'counts',
  lpm: 'l/min',
  'l/min': 'l/min',
  lps: 'l/s',
  'l/s': 'l/s',
  'm3/h': 'm3/h',
  'm³/h': 'm3/h',
  'm3/s': 'm3/s',
  'm³/s': 'm3/s',
  degc: 'degC',
  '°c': 'degC',
  degf: 'degF',
  '°f': 'degF',
  dbm: 'dBm',
  percent: 'percent',
};

const LAST_WORD = /[\s_([]([^\s_()[\]]+)[)\]]?$/;

/** The unit that a column's name ends with (`pressure_kPa`, `Druck [mbar]`), as far as it is a unit of the channel. */
export function unitInName(name: string, channel: Channel): Unit | undefined {
  const unit = anyUnit(name);
  return unit !== undefined && isUnitOf(channel, unit) ? unit : undefined;
}

/** True where the name ends with a unit that the channel can't have: the column measures something else. */
export function namesForeignUnit(name: string, channel: Channel): boolean {
  const unit = anyUnit(name);
  return unit !== undefined && !(UNITS[channel] as readonly string[]).includes(unit);
}

function anyUnit(name: string): Unit | undefined {
  const word = LAST_WORD.exec(name.trim())?.[1];
  return word === undefined ? undefined : SPELLINGS[word.toLowerCase()];
}
