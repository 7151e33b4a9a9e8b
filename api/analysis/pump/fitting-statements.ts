import { localText } from '../../../collector/model/local-time.ts';
import { figure, interval95, plural } from '../evidence/wording.ts';
import type { AnalysisSite, Evidence, FittingFinding } from '../findings.ts';

type Outlets = FittingFinding['outlets'][number];
type Pair = Outlets['pairs'][number];

/** A house has fewer outlets that matter; what is left out stands in the document's and the letter's table. */
const MOST_TOLD = 12;

const ANSWER_WORDS: Record<Outlets['answer'], string> = {
  worked: 'it worked',
  'made it worse': 'it made things worse',
  'no change shown': 'no change is shown beyond chance',
  'too few readings': 'too few readings to say whether it worked',
};

/** A jug and a watch give a tenth of a litre a minute, a gauge a hundredth of a bar. */
const QUANTITIES: Record<
  Outlets['quantity'],
  { readonly name: string; readonly unit: string; readonly digits: number }
> = {
  flowLpm: { name: 'flow', unit: 'l/min', digits: 1 },
  pressureBar: { name: 'pressure while it runs', unit: 'bar', digits: 2 },
};

/** Did the fitting work: for each quantity the outlets together, then each of them; then the log. */
export function fittingStatements(
  fitting: FittingFinding | undefined,
  site: AnalysisSite,
): Evidence['statements'][number][] {
  if (!fitting) return [];
  const on = localText(Date.parse(fitting.at), site.timeZone, 'd LLLL yyyy');
  const outlets = fitting.outlets.flatMap((one) => [togetherStatement(one, on), pairsStatement(one, on)]);
  const kept = fitting.logged.find(({ figure: which }) => which === 'kept95');
  return kept ? [...outlets, loggedStatement(kept, on)] : outlets;
}

function togetherStatement({ quantity, pairs, gain, interval, answer }: Outlets, on: string) {
  const { name, unit, digits } = QUANTITIES[quantity];
  const gained =
    gain === undefined
      ? ''
      : ` changed by ${figure(gain, digits)} ${unit}${interval95(interval, (value) => figure(value, digits), unit)}`;
  return {
    text: `Before and after the fitting on ${on} the ${name} at ${plural(pairs.length, 'outlet')}${gained}: ${ANSWER_WORDS[answer]}.`,
    certainty: answer === 'too few readings' ? ('unknown' as const) : ('certain' as const),
  };
}

/** What was read stands as it was read: no chance is in it. */
function pairsStatement({ quantity, pairs }: Outlets, on: string) {
  const { name } = QUANTITIES[quantity];
  const told = pairs.slice(0, MOST_TOLD).map((pair) => pairWords(pair, quantity));
  const left = pairs.length - told.length;
  return {
    text: `Read before and after the fitting on ${on}, ${name}: ${told.join('; ')}${left > 0 ? `; and ${plural(left, 'more outlet')}` : ''}.`,
    certainty: 'certain' as const,
  };
}

function pairWords({ outlet, before, after }: Pair, quantity: Outlets['quantity']): string {
  const { unit, digits } = QUANTITIES[quantity];
  const change = after - before;
  const text = figure(Math.abs(change), digits);
  const words = Number(text) === 0 ? 'the same' : `${text} ${unit} ${change > 0 ? 'more' : 'less'}`;
  return `${outlet} from ${figure(before, digits)} to ${figure(after, digits)} ${unit} (${words})`;
}

function loggedStatement(kept: FittingFinding['logged'][number], on: string): Evidence['statements'][number] {
  const { daysBefore, daysAfter, fromBar, toBar, interval, answer } = kept;
  return {
    text:
      `The logged pressure kept for 95 % of a day went from ${figure(fromBar)} bar (${plural(daysBefore, 'day')} before the ` +
      `fitting on ${on}) to ${figure(toBar)} bar (${plural(daysAfter, 'day')} after), a change of ` +
      `${figure(toBar - fromBar)} bar${interval95(interval, (value) => figure(value), 'bar')}: ${ANSWER_WORDS[answer]}.`,
    certainty: answer === 'too few readings' ? 'unknown' : 'certain',
  };
}
