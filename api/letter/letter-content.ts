import { localText } from '../../collector/model/local-time.ts';
import { dayStrips, MOST_STRIPS } from './day-strips.ts';
import type { Drawing } from './drawing.ts';
import { findingBlocks } from './finding-blocks.ts';
import type { LetterInput } from './letter-input.ts';
import { measurementBlocks } from './measurement-blocks.ts';
import { CAUTIONS, methodStatements } from './method-statements.ts';
import { recordedSpan, spanChart } from './span-chart.ts';

export interface LetterTable {
  readonly caption: string;
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** A letter's parts in order; HTML and PDF render the same blocks. */
export type LetterBlock =
  | { readonly kind: 'paragraph'; readonly text: string }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | { readonly kind: 'table'; readonly table: LetterTable }
  | { readonly kind: 'chart'; readonly caption: string; readonly drawing: Drawing };

export interface LetterSection {
  readonly heading: string;
  readonly blocks: readonly LetterBlock[];
}

export interface LetterContent {
  readonly title: string;
  readonly subtitle: string;
  /** Stands on every page; undefined for a real house. */
  readonly banner: string | undefined;
  readonly sections: readonly LetterSection[];
  readonly footer: string;
}

/**
 * The letter for a span: what was measured where, with what and how completely; what was found; the pictures; method and
 * cautions. Pure: the same input gives the same letter.
 */
export function letterContent(input: LetterInput): LetterContent {
  const { timeZone } = input;
  const span = recordedSpan(input);
  const day = (atMs: number) => localText(atMs, timeZone, 'd LLLL yyyy HH:mm');
  const strips = dayStrips(input);
  const charts: LetterBlock[] = [
    {
      kind: 'chart',
      caption: input.findings.standing ? 'Standing pressure over the whole span' : 'Pressure over the whole span',
      drawing: spanChart(input),
    },
  ];
  if (strips)
    charts.push({
      kind: 'chart',
      caption: `Day by day, midnight to midnight by the clock at the house (at most the ${MOST_STRIPS} newest days)`,
      drawing: strips,
    });
  return {
    title: input.position === 'pump_outlet' ? 'Pump pressure record' : 'Water pressure record',
    subtitle: `${input.siteName}, ${day(span.fromMs)} to ${day(span.toMs)}, times in ${timeZone}`,
    banner: input.invented ? 'Example. This house, its street and its readings are invented.' : undefined,
    sections: [
      { heading: 'What was found', blocks: findingBlocks(input) },
      { heading: 'The record in pictures', blocks: charts },
      { heading: 'What was measured, and how completely', blocks: measurementBlocks(input) },
      { heading: 'How it was judged', blocks: [{ kind: 'list', items: methodStatements(input) }] },
      { heading: 'Cautions', blocks: [{ kind: 'list', items: CAUTIONS }] },
    ],
    footer: `Written ${day(input.writtenMs)} by Mains Diary ${input.programVersion}, analysis ${input.findings.versions.analysis}, from logger ${input.loggerId}`,
  };
}
