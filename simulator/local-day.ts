import { instantOfLocal, localDays, startOfLocalDay, startOfNextLocalDay } from '../collector/model/local-time.ts';

/** A day by the site's clock: 23, 24 or 25 hours long. Weekday by ISO: 1 is Monday. */
export interface LocalDay {
  readonly date: string;
  readonly startMs: number;
  readonly endMs: number;
  readonly weekday: number;
  /** The instant at which the site's clock shows that hour (with a fraction) of this day; beyond 24 runs into the next. */
  at(hour: number): number;
}

const MARGIN_MS = 1000;

/** Local days of one zone, remembered: the calendar is asked for again and again. */
export class LocalCalendar {
  readonly timeZone: string;
  private readonly known = new Map<number, LocalDay>();

  constructor(timeZone: string) {
    this.timeZone = timeZone;
  }

  /** Days that touch [fromMs, toMs). */
  days(fromMs: number, toMs: number): LocalDay[] {
    const found: LocalDay[] = [];
    for (let at = fromMs; at < toMs; ) {
      const day = this.dayOf(at);
      found.push(day);
      at = day.endMs;
    }
    return found;
  }

  dayOf(atMs: number): LocalDay {
    const key = Math.floor(atMs / 3_600_000);
    const remembered = this.known.get(key);
    if (remembered && remembered.startMs <= atMs && atMs < remembered.endMs) return remembered;
    const startMs = startOfLocalDay(atMs, this.timeZone);
    const endMs = startOfNextLocalDay(atMs, this.timeZone);
    const raw = localDays(startMs, startMs + MARGIN_MS, this.timeZone)[0]!;
    const zone = this.timeZone;
    const hours = new Map<number, number>();
    const day: LocalDay = {
      date: raw.date,
      startMs,
      endMs,
      weekday: raw.weekday,
      at(hour) {
        if (hour < 0) return startMs + hour * 3_600_000;
        if (hour >= 24) return endMs + (hour - 24) * 3_600_000;
        const whole = Math.floor(hour);
        let base = hours.get(whole);
        if (base === undefined) {
          base = instantOfLocal(raw.date, whole, 0, zone);
          hours.set(whole, base);
        }
        return Math.round(base + (hour - whole) * 3_600_000);
      },
    };
    this.known.set(key, day);
    return day;
  }
}
