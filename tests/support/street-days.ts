/** An invented street in UTC: 3 bar, a little unrest, and a fall every weekday morning from 06:30 to 08:30. */
export const STREET_MONDAY_MS = Date.UTC(2026, 0, 5);
export const STREET_INTERVAL_MS = 10_000;
const DAY_MS = 86_400_000;
const HOUR_MS = 3_600_000;

/** Readings of [fromDay, toDay), days counted from Monday; `lowestBar` is reached from 07:00 to 08:00. */
export function streetDays(fromDay: number, toDay: number, lowestBar = 2.2): [timeMs: number, bar: number][] {
  const rows: [number, number][] = [];
  for (let at = fromDay * DAY_MS; at < toDay * DAY_MS; at += STREET_INTERVAL_MS) {
    const hour = (at % DAY_MS) / HOUR_MS;
    const weekday = Math.floor(at / DAY_MS) % 7 < 5;
    const share = Math.max(0, Math.min(1, 2 * (hour - 6.5), 2 * (8.5 - hour)));
    const unrest = (0.004 * (((at / STREET_INTERVAL_MS) * 7919) % 11)) / 11;
    const bar = 3 + unrest - (weekday ? (3 - lowestBar) * 0.5 * (1 - Math.cos(Math.PI * share)) : 0);
    rows.push([STREET_MONDAY_MS + at, Math.round(1000 * bar) / 1000]);
  }
  return rows;
}

/** As payloads of batches that a broker takes. */
export function batches(rows: readonly (readonly [number, number])[]): string[] {
  const most = 3_000;
  return Array.from({ length: Math.ceil(rows.length / most) }, (_, i) =>
    JSON.stringify(rows.slice(i * most, (i + 1) * most).map(([time, value]) => ({ time, value }))),
  );
}
