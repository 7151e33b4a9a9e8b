import { localText } from '../../collector/model/local-time.ts';
import type { ChannelSetting } from '../../collector/model/logger.ts';
import { plusMinusBar } from '../../collector/model/uncertainty-words.ts';
import { BAR_PER_METRE_OF_WATER } from '../../collector/model/units.ts';
import type { FaultKind } from '../analysis/findings.ts';
import { clockSentences } from './clock-sentences.ts';
import { count, share } from './figures.ts';
import type { LetterBlock } from './letter-blocks.ts';
import type { LetterInput } from './letter-input.ts';

const POSITION_WORDS: Record<LetterInput['position'], string> = {
  incoming: 'on the incoming main, at the internal stop tap',
  pump_inlet: "at the pump's inlet",
  pump_outlet: "at the pump's outlet",
};

const FAULT_WORDS: Record<FaultKind, readonly [one: string, many: string]> = {
  gap: ['gap without readings', 'gaps without readings'],
  stuck: ['spell with a stuck reading', 'spells with a stuck reading'],
  spike: ['single spike', 'single spikes'],
  out_of_range: ["spell outside the transducer's range", "spells outside the transducer's range"],
  offset_step: ['step of the transducer itself', 'steps of the transducer itself'],
  clock_jump: ["jump of the logger's clock", "jumps of the logger's clock"],
  duplicate: ['repeated reading', 'repeated readings'],
  late: ['batch that came late', 'batches that came late'],
  quantised: ['coarse steps of the converter', 'coarse steps of the converter'],
};

/** What was measured where, with what, how well and how completely. */
export function measurementBlocks(input: LetterInput): LetterBlock[] {
  const { findings } = input;
  const height = input.heightAboveSupplyPointM;
  const lines = [
    `Pressure was read ${POSITION_WORDS[input.position]}${findings.series.intervalS === null ? '' : `, every ${findings.series.intervalS} s`}; ${count(findings.series.samples)} readings in the span.`,
    height === 0
      ? 'The transducer is taken to be at the height of the boundary stop tap.'
      : `The transducer is ${Math.abs(height)} m ${height > 0 ? 'above' : 'below'} the boundary stop tap, where the pressure is ${Math.abs(height * BAR_PER_METRE_OF_WATER).toFixed(3)} bar ${height > 0 ? 'higher' : 'lower'}; pressures here are those at the transducer, and thresholds were shifted by this.`,
    ...input.channelSettings
      .filter((setting) => setting.channel === 'pressure')
      .map((setting) => settingWords(setting, input.timeZone)),
    ...(input.calibrations.length === 0
      ? ['The transducer was not compared with a gauge.']
      : input.calibrations.map((calibration) =>
          `Compared with a gauge on ${localText(calibration.fromMs, input.timeZone, 'd LLLL yyyy')}: true value = ${calibration.gain.toFixed(4)} × reading ${calibration.offset < 0 ? '−' : '+'} ${Math.abs(calibration.offset).toFixed(3)} bar, standard uncertainty ${calibration.standardUncertainty.toFixed(3)} bar. ${calibration.note}`.trim(),
        )),
    `A single reading is good to ${plusMinusBar(findings.sensorUBar)} (expanded uncertainty, k = 2, about 95 %), made up of ${findings.sensorBudget.map((entry) => `${entry.source} ${entry.standardUncertaintyBar.toFixed(3)} bar`).join(', ')} (standard uncertainties).`,
    // Where all of it was erased none is expected, and a share of none says nothing.
    ...(findings.coverage.expected === 0
      ? []
      : [
          `${count(findings.coverage.received)} of ${count(findings.coverage.expected)} expected readings are there; ${share(findings.coverage.validFraction)} are there and usable.`,
        ]),
  ];
  lines.push(...clockSentences(input));
  const faults = faultWords(input);
  if (faults) lines.push(`Kept but not used: ${faults}.`);
  const blocks: LetterBlock[] = [{ kind: 'list', items: lines }];
  if (findings.limits.length > 0) {
    blocks.push({ kind: 'paragraph', text: 'What this record cannot show:' });
    blocks.push({ kind: 'list', items: findings.limits });
  }
  return blocks;
}

function settingWords(setting: ChannelSetting, timeZone: string): string {
  const range = setting.rangeBar ? `, range ${setting.rangeBar[0]} to ${setting.rangeBar[1]} bar` : '';
  const accuracy =
    setting.accuracyBar === undefined
      ? '; its accuracy is not stated, so 1 % of the range is taken'
      : `, accuracy ± ${setting.accuracyBar} bar`;
  const endPoints = setting.endPoints
    ? `; ${setting.endPoints.map((point) => `${point.raw} ${setting.unit} is ${point.bar} bar`).join(', ')}`
    : '';
  return `Transducer from ${localText(setting.fromMs, timeZone, 'd LLLL yyyy')}: sends ${setting.unit}${range}${accuracy}${endPoints}.`;
}

function faultWords(input: LetterInput): string {
  const counts = new Map<FaultKind, number>();
  for (const fault of input.findings.faults) counts.set(fault.kind, (counts.get(fault.kind) ?? 0) + (fault.count ?? 1));
  counts.delete('quantised');
  return [...counts].map(([kind, number]) => `${count(number)} ${FAULT_WORDS[kind][number === 1 ? 0 : 1]}`).join(', ');
}
