const HOUR_MS = 3_600_000;

/** A place's clock by the platform's own calendar data, so that labels owe nothing to the program's. */
export class WallClock {
  readonly #format: Intl.DateTimeFormat;
  readonly #offsets = new Map<number, number>();

  constructor(timeZone: string) {
    this.#format = new Intl.DateTimeFormat('en-GB', {
      timeZone,
      hourCycle: 'h23',
      year: 'numeric',
      month: 'numeric',
      day: 'numeric',
      hour: 'numeric',
      minute: 'numeric',
    });
  }

  /** Milliseconds east of UTC. */
  offsetMs(atMs: number): number {
    const hour = Math.floor(atMs / (HOUR_MS / 2));
    const known = this.#offsets.get(hour);
    if (known !== undefined) return known;
    const parts = new Map(
      this.#format.formatToParts(hour * (HOUR_MS / 2)).map((part) => [part.type, Number(part.value)]),
    );
    const shown = Date.UTC(
      parts.get('year')!,
      parts.get('month')! - 1,
      parts.get('day')!,
      parts.get('hour')!,
      parts.get('minute')!,
    );
    const offset = shown - hour * (HOUR_MS / 2);
    this.#offsets.set(hour, offset);
    return offset;
  }

  /** The first instant at which the clock shows `hour` (with decimals) on a date. */
  at(date: string, hour: number): number {
    const shown = Date.parse(`${date}T00:00:00Z`) + hour * HOUR_MS;
    const guess = shown - this.offsetMs(shown - 12 * HOUR_MS);
    return this.offsetMs(guess) === this.offsetMs(shown - 12 * HOUR_MS) ? guess : shown - this.offsetMs(guess);
  }

  dateOf(atMs: number): string {
    return new Date(atMs + this.offsetMs(atMs)).toISOString().slice(0, 10);
  }

  /** Calendar dates that touch [fromMs, toMs), with the weekday, 0 for Sunday. */
  dates(fromMs: number, toMs: number): { date: string; weekday: number }[] {
    const found: { date: string; weekday: number }[] = [];
    const last = this.dateOf(toMs - 1);
    for (let day = Date.parse(`${this.dateOf(fromMs)}T00:00:00Z`); ; day += 24 * HOUR_MS) {
      const date = new Date(day).toISOString().slice(0, 10);
      found.push({ date, weekday: new Date(day).getUTCDay() });
      if (date >= last) return found;
    }
  }
}
