import { localText } from '../../collector/model/local-time.ts';
import type { FindingsDocument, FittingFinding } from '../analysis/findings.ts';
import { bar } from './figures.ts';
import type { LetterBlock } from './letter-blocks.ts';

type Quantity = FittingFinding['outlets'][number]['quantity'];

const HEADS: Record<Quantity, readonly [string, string, string]> = {
  flowLpm: ['l/min before', 'after', 'change'],
  pressureBar: ['Bar before', 'after', 'change'],
};

const FIGURE_WORDS: Record<FittingFinding['logged'][number]['figure'], string> = {
  median: 'Median of a day',
  kept95: 'Kept for 95 % of a day',
};

const ANSWER_WORDS: Record<FittingFinding['outlets'][number]['answer'], string> = {
  worked: 'it worked',
  'made it worse': 'it made things worse',
  'no change shown': 'no change beyond chance',
  'too few readings': 'too few readings to say',
};

/** Before and after a fitting: every outlet read on both sides, then the logged pressure, each with its interval. */
export function fittingBlocks(fitting: FindingsDocument['fitting'], timeZone: string): LetterBlock[] {
  if (!fitting) return [];
  const on = localText(Date.parse(fitting.at), timeZone, 'd LLLL yyyy');
  const where = fitting.from === 'entered' ? `the fitting on ${on}` : `what the log shows as a fitting on ${on}`;
  return [
    ...(fitting.outlets.length === 0 ? [] : [outletTable(fitting.outlets, where)]),
    ...(fitting.logged.length === 0 ? [] : [loggedTable(fitting.logged, where)]),
  ];
}

function outletTable(outlets: FittingFinding['outlets'], where: string): LetterBlock {
  const names = [...new Set(outlets.flatMap(({ pairs }) => pairs.map(({ outlet }) => outlet)))];
  const rows = names.map((name) => [
    name,
    ...outlets.flatMap(({ quantity, pairs }) => {
      const pair = pairs.find(({ outlet }) => outlet === name);
      return pair
        ? [figure(pair.before, quantity), figure(pair.after, quantity), signed(pair.after - pair.before, quantity)]
        : ['', '', ''];
    }),
  ]);
  const together = [
    'Together (95 %)',
    ...outlets.flatMap(({ quantity, gain, interval }) => [
      '',
      '',
      gain === undefined
        ? ''
        : `${signed(gain, quantity)}${interval ? ` (${signed(interval[0], quantity)} to ${signed(interval[1], quantity)})` : ''}`,
    ]),
  ];
  return {
    kind: 'table',
    table: {
      caption: `What the outlets gave before and after ${where}, each alone`,
      head: ['Outlet', ...outlets.flatMap(({ quantity }) => HEADS[quantity])],
      rows: [...rows, together],
    },
  };
}

function loggedTable(logged: FittingFinding['logged'], where: string): LetterBlock {
  return {
    kind: 'table',
    table: {
      caption: `The logged pressure before and after ${where}, the day itself left out`,
      head: ['Pressure', 'Before', 'After', 'Change (95 %)', 'Answer'],
      rows: logged.map(({ figure: which, daysBefore, daysAfter, fromBar, toBar, interval, answer }) => [
        FIGURE_WORDS[which],
        `${bar(fromBar)} (${days(daysBefore)})`,
        `${bar(toBar)} (${days(daysAfter)})`,
        `${signed(toBar - fromBar, 'pressureBar')}${interval ? ` (${signed(interval[0], 'pressureBar')} to ${signed(interval[1], 'pressureBar')})` : ''}`,
        ANSWER_WORDS[answer],
      ]),
    },
  };
}

/** A jug and a watch give a tenth of a litre a minute, a gauge a hundredth of a bar. */
const DECIMALS: Record<Quantity, number> = { flowLpm: 1, pressureBar: 2 };

function figure(value: number, quantity: Quantity): string {
  return value.toFixed(DECIMALS[quantity]);
}

function signed(value: number, quantity: Quantity): string {
  const text = figure(Math.abs(value), quantity);
  return Number(text) === 0 ? text : `${value < 0 ? '−' : '+'}${text}`;
}

function days(count: number): string {
  return count === 1 ? '1 day' : `${count} days`;
}
