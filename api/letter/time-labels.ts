import { localDays, localText } from '../../collector/model/local-time.ts';
import type { Shape } from './drawing.ts';

/** More names than this would run into one another on the width of a page. */
const MOST_DAY_LABELS = 8;
/** Up to this length hours are told along the foot. */
const HOURS_TOLD_UP_TO_MS = 2 * 86_400_000;
const HOUR_STEPS_MS = [5, 15, 30, 60, 120, 180, 360, 720].map((minutes) => minutes * 60_000);

/** Days by name; of a span of a day or two, hours. */
export function timeLabels(
  timeZone: string,
  { fromMs, toMs }: { fromMs: number; toMs: number },
  x: (atMs: number) => number,
  /** The axis along which they stand. */
  foot: number,
): Shape[] {
  const days = localDays(fromMs, toMs, timeZone);
  const byHour = toMs - fromMs <= HOURS_TOLD_UP_TO_MS;
  const step =
    HOUR_STEPS_MS.find((candidate) => (toMs - fromMs) / candidate <= MOST_DAY_LABELS) ?? HOUR_STEPS_MS.at(-1)!;
  const marks = byHour
    ? days.flatMap((day) => {
        const first = Math.max(0, Math.ceil((fromMs - day.startMs) / step));
        const end = Math.ceil((Math.min(toMs, day.endMs) - day.startMs) / step);
        return Array.from({ length: Math.max(0, end - first) }, (_, at) => day.startMs + (first + at) * step);
      })
    : days.map(({ startMs }) => startMs);
  const every = byHour ? 1 : Math.ceil(days.length / MOST_DAY_LABELS);
  return marks.flatMap((atMs, index): Shape[] => {
    const label: Shape = {
      kind: 'text',
      x: x(atMs) + 2,
      y: foot + 10,
      text: localText(atMs, timeZone, byHour ? 'd LLL HH:mm' : 'ccc d LLL'),
      size: 7,
      ink: 'faint',
      anchor: 'start',
    };
    const tick: Shape = {
      kind: 'line',
      points: [
        [x(atMs), foot],
        [x(atMs), foot + 3],
      ],
      ink: 'faint',
      width: 0.5,
    };
    return [...(atMs >= fromMs ? [tick] : []), ...(index % every === 0 ? [label] : [])];
  });
}
