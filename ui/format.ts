import type { SiteTime } from './site-time.ts';

export { plusMinusBar as uncertaintyBar } from '../collector/model/uncertainty-words.ts';

/*
 * Figures, times and durations as text. Every figure carries its unit, every time is the site's. A minus is a real
 * minus sign; ranges use an en dash.
 */

const WEEKDAYS = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'];
const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];
const SMALL_NUMBERS = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine'];

/** A fixed number of decimals, with a real minus sign and no "-0". */
export function figure(value: number, decimals: number): string {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text.replace('-', '\u2212');
}

/** Pressure in bar: two decimals say what a cheap transducer can, three are for uncertainties of a few millibar. */
export function bar(value: number, decimals = 2): string {
  return `${figure(value, decimals)}\u00a0bar`;
}

export function flow(value: number): string {
  return `${figure(value, 1)}\u00a0l/min`;
}

/** One value of any channel in its canonical unit. */
export function valueWithUnit(value: number, unit: string): string {
  if (unit === 'bar') return bar(value, 3);
  if (unit === 'l/min') return flow(value);
  if (unit === 'on/off') return value > 0.5 ? 'on' : 'off';
  if (unit === 'degC') return `${figure(value, 1)}\u00a0°C`;
  return `${figure(value, Math.abs(value) >= 100 ? 0 : 2)}\u00a0${unit}`;
}

export function percent(share: number): string {
  if (share > 0 && share < 0.01) return 'under 1\u00a0%';
  if (share < 1 && share > 0.99) return 'over 99\u00a0%';
  return `${Math.round(share * 100)}\u00a0%`;
}

/** `07:05` on the site's clock. */
export function clock(atMs: number, time: SiteTime): string {
  const { hour, minute } = time.parts(atMs);
  return `${two(hour)}:${two(minute)}`;
}

export function clockWithSeconds(atMs: number, time: SiteTime): string {
  return `${clock(atMs, time)}:${two(time.parts(atMs).second)}`;
}

/** `07:05–08:40`, with the seconds where a minute wouldn't tell the ends apart. */
export function clockRange(fromMs: number, toMs: number, time: SiteTime): string {
  const short = toMs - fromMs < 120_000;
  if (toMs <= fromMs) return clockWithSeconds(fromMs, time);
  const text = short ? clockWithSeconds : clock;
  return `${text(fromMs, time)}–${text(toMs, time)}`;
}

/** `Monday 4 May`, with the year where asked. `date` is `YYYY-MM-DD`. */
export function dateInWords(date: string, withYear = false): string {
  const [year, month, day] = date.split('-').map(Number) as [number, number, number];
  const weekday = new Date(Date.UTC(year, month - 1, day)).getUTCDay();
  const words = `${WEEKDAYS[(weekday + 6) % 7]} ${day} ${MONTHS[month - 1]}`;
  return withYear ? `${words} ${year}` : words;
}

/** `4 May 2026`. */
export function shortDate(date: string): string {
  const [year, month, day] = date.split('-').map(Number) as [number, number, number];
  return `${day} ${MONTHS[month - 1]!.slice(0, 3)} ${year}`;
}

/** `4 May 2026, 07:05`. */
export function dateAndClock(atMs: number, time: SiteTime): string {
  return `${shortDate(time.parts(atMs).date)}, ${clock(atMs, time)}`;
}

/** A span in words, as short as it stays exact enough to read: `4 May 2026, 07:05–08:40`. */
export function spanInWords(fromMs: number, toMs: number, time: SiteTime): string {
  const from = time.parts(fromMs).date;
  const to = time.parts(toMs - 1).date;
  if (from === to) {
    const day = time.dayOf(fromMs);
    const whole = day.startMs === fromMs && day.endMs === toMs;
    return whole ? shortDate(from) : `${shortDate(from)}, ${clockRange(fromMs, toMs, time)}`;
  }
  return `${shortDate(from)} – ${shortDate(to)}`;
}

/** `45 s`, `12 min`, `1 h 35 min`, `3 days`. */
export function duration(ms: number): string {
  const seconds = Math.round(ms / 1000);
  if (seconds < 100) return `${seconds}\u00a0s`;
  const minutes = Math.round(ms / 60_000);
  if (minutes < 100) return `${minutes}\u00a0min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return minutes % 60 === 0 ? `${hours}\u00a0h` : `${hours}\u00a0h\u00a0${minutes % 60}\u00a0min`;
  return `${Math.round(hours / 24)}\u00a0days`;
}

/** How long ago, coarse on purpose: a state is read at a glance. */
export function ago(atMs: number, nowMs: number): string {
  const passed = nowMs - atMs;
  return passed < 10_000 ? 'just now' : `${duration(passed)} ago`;
}

/** Small numbers as words, larger ones as figures with thin spaces. */
export function count(value: number): string {
  return SMALL_NUMBERS[value] ?? largeNumber(value);
}

export function largeNumber(value: number): string {
  return String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, '\u202f');
}

/** `one draw`, `31 draws`. */
export function counted(value: number, singular: string, plural = `${singular}s`): string {
  return `${count(value)} ${value === 1 ? singular : plural}`;
}

export function sentence(text: string): string {
  const first = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.?]$/.test(first) ? first : `${first}.`;
}

/** `a, b and c`. */
export function listed(items: readonly string[]): string {
  if (items.length < 2) return items[0] ?? '';
  return `${items.slice(0, -1).join(', ')} and ${items.at(-1)}`;
}

/** `3.4 MB`, decimal prefixes. */
export function bytes(size: number): string {
  if (size < 1000) return `${size}\u00a0bytes`;
  if (size < 1e6) return `${figure(size / 1000, 0)}\u00a0kB`;
  if (size < 1e9) return `${figure(size / 1e6, 1)}\u00a0MB`;
  return `${figure(size / 1e9, 1)}\u00a0GB`;
}

function two(value: number): string {
  return String(value).padStart(2, '0');
}
