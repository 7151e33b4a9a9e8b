import { localText } from '../../../collector/model/local-time.ts';
import type { AnalysisSite } from '../findings.ts';
import { SLOWEST_TELLING_INTERVAL_S } from '../quality/offset-step.ts';
import { duration } from './wording.ts';

/** From this interval on most of a household's draws fall between two samples. */
const FEW_DRAWS_FROM_S = 30;

/** What a series of this rate, sensor and position could not show, in words. */
export function seriesLimits(
  site: AnalysisSite,
  intervalS: number,
  floor: { readonly dropBar: number; readonly durationS: number } | undefined,
  metered: boolean,
): string[] {
  const limits = (site.rawErased ?? []).map((span) => erasedWords(span, site.timeZone));
  if (site.sensor.position === 'pump_outlet') {
    limits.push(
      'Behind a pump the street’s own pressure can’t be seen: no standing pressure, sag or low supply is given.',
    );
    return limits;
  }
  limits.push(
    'A constant flow inside the boundary (a leaking service pipe, a cistern that never shuts) is part of the standing pressure and can’t be told from pressure alone: compare the meter’s reading with the stop tap shut.',
  );
  if (!metered && site.sensor.position === 'incoming') {
    limits.push(
      'Without a flow meter a neighbour’s draws on a shared service pipe look like the household’s own and are counted as such.',
    );
  }
  if (floor) {
    limits.push(
      `Draws shorter than ${duration(floor.durationS * 1000)} or with a fall under ${floor.dropBar.toFixed(2)} bar are not reported.`,
    );
  }
  if (intervalS >= FEW_DRAWS_FROM_S) {
    limits.push(
      `At one sample in ${duration(intervalS * 1000)} draws of one or two samples can’t be counted; single low readings may be draws and are not called low supply.`,
    );
  }
  if (intervalS > SLOWEST_TELLING_INTERVAL_S) {
    limits.push('At this rate a step of the sensor’s zero can’t be told from a change of the supply by its speed.');
  }
  return limits;
}

function erasedWords(span: { readonly fromMs: number; readonly toMs: number }, timeZone: string): string {
  const text = (atMs: number) => localText(atMs, timeZone, 'd LLLL yyyy, HH:mm');
  return `Single readings from ${text(span.fromMs)} to ${text(span.toMs)} were erased by age, as this site is set; the lowest, highest and mean of each minute are kept and drawn, but nothing is found in them any more.`;
}
