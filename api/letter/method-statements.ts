import { count, duration } from './figures.ts';
import type { LetterInput } from './letter-input.ts';
import { pumpMethods } from './pump-methods.ts';

/** How the findings were made, in sentences a supplier's engineer can check. */
export function methodStatements(input: LetterInput): string[] {
  const { findings } = input;
  const floor = findings.detectionFloor;
  const pump = pumpMethods(findings);
  const supply = [
    'Standing pressure is what the transducer would read with nobody in the property drawing water. The household opens and shuts outlets within a second or two, while the street changes over minutes: by these edges the own draws were found, cut out and bridged.',
    findings.draws.length === 0
      ? 'No draws of the household were found.'
      : `${count(findings.draws.length)} own ${findings.draws.length === 1 ? 'draw was' : 'draws were'} found; none is counted as low supply.`,
    ...(floor
      ? [
          `Draws smaller than ${floor.dropBar.toFixed(3)} bar or shorter than ${duration(floor.durationS * 1000)} are not reported. ${floor.note}`,
        ]
      : []),
    `A low-supply period is standing pressure below ${findings.thresholds.lowSupplyBar} bar for at least 60 s; recoveries under 120 s are bridged, and at least 90 % of it must lie below.`,
    'It is certain when the pressure lies below the threshold by more than the expanded uncertainty (k = 2), and possible otherwise.',
    `A sag is a fall of the 5-minute mean of standing pressure by at least ${findings.thresholds.sagMinDepthBar} bar below that night's level (the median from 01:00 to 05:00), between 05:00 and 11:00 or 17:00 and 23:00 by the clock at the house.`,
    'A constant flow inside the boundary (a leaking service pipe, a cistern that never shuts) is part of standing pressure and cannot be told from pressure alone; a meter reading with the stop tap shut tells.',
  ];
  return [
    ...(findings.standing ? supply : []),
    ...(findings.pumpStarts.length > 0 || input.position === 'pump_outlet' ? pump : []),
    'Readings are kept as they were sent. Settings and calibrations are applied when reading and change no sample.',
    'Uncertainties are combined as in JCGM 100:2008 (the guide to the expression of uncertainty in measurement).',
  ];
}

/** What can hurt someone, and who decides. */
export const CAUTIONS: readonly string[] = [
  'A pressure record shows pressure at one point. It does not show water quality, nor by itself the cause of a fall.',
  'Isolating and opening pipes, and electrical work near water, belong to competent, where required licensed, people; local rules come first.',
  'Before any pump is connected to a supply pipe ask the water supplier; many places require notice or consent (in the United Kingdom for pumps that draw more than 12 l/min). A pump lowers the pressure in shared pipes and can draw contamination in.',
  'Fittings that touch drinking water must be suitable for it, and backflow protection must be kept. Do not disturb old lead pipes.',
  'A change of pressure changes mixed temperatures at taps and showers: check thermostatic valves against scalding.',
];
