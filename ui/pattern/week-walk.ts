/** A cell of the week: Monday is day 0. */
export interface WeekPlace {
  readonly day: number;
  readonly hour: number;
}

const DAYS = 7;
const HOURS = 24;

/**
 * Where a key leads, staying inside the table; undefined for keys that lead nowhere.
 * @param across what the table's columns are
 */
export function walk(key: string, { day, hour }: WeekPlace, across: 'days' | 'hours'): WeekPlace | undefined {
  const move = (columns: number, rows: number): WeekPlace => {
    const [days, hours] = across === 'days' ? [columns, rows] : [rows, columns];
    return { day: within(day + days, DAYS), hour: within(hour + hours, HOURS) };
  };
  switch (key) {
    case 'ArrowLeft':
      return move(-1, 0);
    case 'ArrowRight':
      return move(1, 0);
    case 'ArrowUp':
      return move(0, -1);
    case 'ArrowDown':
      return move(0, 1);
    case 'Home':
      return move(-HOURS, 0);
    case 'End':
      return move(HOURS, 0);
    default:
      return undefined;
  }
}

function within(value: number, count: number): number {
  return Math.min(count - 1, Math.max(0, value));
}
