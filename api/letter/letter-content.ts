import { localText } from '../../collector/model/local-time.ts';
import { dayStrips } from './day-strips.ts';
import { findingBlocks } from './finding-blocks.ts';
import type { LetterBlock, LetterContent } from './letter-blocks.ts';
import type { LetterInput } from './letter-input.ts';
import { measurementBlocks } from './measurement-blocks.ts';
import { CAUTIONS, methodStatements } from './method-statements.ts';
import { patternSection } from './pattern-section.ts';
import { recordedSpan, spanChart } from './span-chart.ts';

/**
 * The letter for a span: what was measured where, with what and how completely; what was found; the pictures; method and
 * cautions. Pure: the same input gives the same letter.
 */
export function letterContent(input: LetterInput): LetterContent {
  const { timeZone } = input;
  const span = recordedSpan(input);
  const day = (atMs: number) => localText(atMs, timeZone, 'd LLLL yyyy HH:mm');
  const charts: LetterBlock[] = [
    {
      kind: 'chart',
      caption: input.findings.standing ? 'Standing pressure over the whole span' : 'Pressure over the whole span',
      drawing: spanChart(input),
    },
    ...dayStrips(input).map((strips) => ({ kind: 'chart' as const, ...strips })),
  ];
  return {
    title: input.position === 'pump_outlet' ? 'Pump pressure record' : 'Water pressure record',
    subtitle: `${input.siteName}, ${day(span.fromMs)} to ${day(span.toMs)}, times in ${timeZone}`,
    banner: input.invented ? 'Example. This house, its street and its readings are invented.' : undefined,
    sections: [
      { heading: 'What was found', blocks: findingBlocks(input) },
      { heading: 'The record in pictures', blocks: charts },
      ...patternSection(input),
      { heading: 'What was measured, and how completely', blocks: measurementBlocks(input) },
      { heading: 'How it was judged', blocks: [{ kind: 'list', items: methodStatements(input) }] },
      { heading: 'Cautions', blocks: [{ kind: 'list', items: CAUTIONS }] },
    ],
    footer: `Written ${day(input.writtenMs)} by Mains Diary ${input.programVersion}, analysis ${input.findings.versions.analysis}, from logger ${input.loggerId}`,
  };
}
