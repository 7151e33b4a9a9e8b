import type { LowestHours, Pattern } from '../analysis/findings.ts';
import type { WeekFigure } from './week-figure.ts';

/*
 * The pattern in sentences, the same on the page, in the letter and on a terminal. What a picture leaves out stands in
 * its words. A space before a unit doesn't break.
 */

const NO_BREAK = '\u00a0';
const KIND_WORDS: Record<LowestHours['days'], string> = { weekdays: 'weekdays', weekend: 'weekend days' };
export const WEEKDAY_NAMES = ['Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday', 'Sunday'];

/** What there is too little of for a picture, in a sentence; undefined where there is enough. */
export function tooLittleWords({ enough }: Pattern): { week?: string; duration?: string; overlays?: string } {
  return {
    ...(enough.week ? {} : { week: 'The table of the week needs five days of readings.' }),
    ...(enough.duration ? {} : { duration: 'The shares of time need a day of readings.' }),
    ...(enough.overlays ? {} : { overlays: 'Days can be laid over one another once there are two.' }),
  };
}

/** "Standing pressure was below 0.70 bar for 4.1 % of the time that it is known …" */
export function belowSentence(below: NonNullable<Pattern['below']>): string {
  const [least, most] = below.shareInterval;
  const much =
    below.share === 0
      ? `never below ${bar(below.thresholdBar)}`
      : below.share === 1
        ? `below ${bar(below.thresholdBar)} all the time`
        : `below ${bar(below.thresholdBar)} for ${percent(below.share)} of the time`;
  const open =
    percent(least) === percent(most)
      ? ''
      : `; with the sensor’s ${plusMinus(below.sensorBar)} (k = 2) it may be ${percent(least)} to ${percent(most)}`;
  const known =
    below.knownFraction > 0.9995
      ? ''
      : ` It is known for ${percent(below.knownFraction)} of the log, and the shares are of that.`;
  return `Standing pressure was ${much}${open}.${known}`;
}

/** The hours that are usually lowest, weekdays and weekend apart. */
export function lowestHoursSentence(pattern: Pattern): string {
  if (pattern.lowestHours.length === 0) return 'No hour of the day stands out: the hours’ medians are much alike.';
  const told = pattern.lowestHours.map(
    (entry) =>
      `on ${KIND_WORDS[entry.days]} ${hours(entry)}, ${bar(entry.medianBar)} against ${bar(entry.levelBar)} over the day (${days(entry.countDays)})`,
  );
  return `Lowest hours: ${told.join('; ')}.`;
}

/** What the table shows, on how much it stands, and what it leaves out. */
export function weekCaption(timeZone: string, { knownCells, daysRange: [fewest, most] }: WeekFigure): string {
  const unknown = 168 - knownCells;
  const empty = unknown === 0 ? '' : ` ${unknown} of the week’s 168 hours ${unknown === 1 ? 'is' : 'are'} not known.`;
  const stands = fewest === most ? days(most) : `${fewest} to ${days(most)}`;
  return `Median of the standing pressure in bar, by weekday and hour of the clock at the house (${timeZone}; 07 is 07:00 to 08:00), each from ${stands}.${empty} A median hides what lasts less than half an hour, and one bad day among good ones.`;
}

export function durationCaption(): string {
  return 'For how much of the time standing pressure was below a pressure: the curve’s height is the pressure, its place across the share of the time. It leaves out when that was, and the household’s own draws.';
}

/** What the lines are, how many, and what they leave out. */
export function overlayCaption(pattern: Pattern, timeZone: string): string {
  const { overlays } = pattern;
  const clock = `by the clock at the house (${timeZone})`;
  const out = `Each point is the median of ${overlays.slotMinutes} minutes, so that shorter dips show less deep than they were; public holidays count as the weekdays they fall on.`;
  if (overlays.bands.length > 0) {
    const told = overlays.bands.map(
      (band) =>
        `${days(band.countDays, band.days === 'weekend' ? 'weekend day' : 'weekday')}, ${band.saggingDays === 0 ? 'none' : band.saggingDays} of them with a sag`,
    );
    return `${overlays.countDays} days over one another, ${clock}: ${told.join('; ')}. So many days are drawn as their medians, with the tenth of days that were lowest and highest outside the band. ${out}`;
  }
  const weekend = overlays.days.filter(({ weekday }) => weekday > 5).length;
  const sagging = overlays.days.filter(({ sags }) => sags.length > 0).length;
  const changed = overlays.days.filter(({ hours: length }) => length !== 24);
  const change = changed.length === 0 ? '' : ' On the day the clock changes, an hour is missing or stands for two.';
  return `${days(overlays.countDays)} over one another, ${clock}: ${overlays.countDays - weekend} on weekdays, ${weekend} at the weekend; ${sagging === 0 ? 'none sags' : `${sagging} with a sag`}.${change} ${out}`;
}

/** `from 07 to 09 o’clock`. */
function hours({ fromHour, toHour }: LowestHours): string {
  return `from ${String(fromHour).padStart(2, '0')} to ${String(toHour).padStart(2, '0')} o’clock`;
}

function days(count: number, noun = 'day'): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}

export function bar(value: number): string {
  return `${value.toFixed(2)}${NO_BREAK}bar`;
}

function plusMinus(value: number): string {
  return `±${(Math.ceil(value * 100 - 1e-9) / 100).toFixed(2)}${NO_BREAK}bar`;
}

/** Tenths of a per cent below ten; what is little or nearly all isn't rounded to none or all. */
export function percent(share: number): string {
  const value = share * 100;
  if (value === 0 || value === 100) return `${value}${NO_BREAK}%`;
  if (value < 0.1) return `under 0.1${NO_BREAK}%`;
  if (value > 99.9) return `over 99.9${NO_BREAK}%`;
  return `${value < 10 || value > 90 ? value.toFixed(1) : value.toFixed(0)}${NO_BREAK}%`;
}
