import type { FindingsDocument } from '../findings.ts';

type Found = Pick<FindingsDocument, 'cycling' | 'pumpStates' | 'pumpTrends' | 'pumpCurve'>;

/**
 * What to do next about everything that was found of a pump, each step once, in the order of what it is about; the cautions,
 * with which every finding's own list ends, come last.
 */
export function stepsOnce({ cycling, pumpStates = [], pumpTrends = [], pumpCurve }: Found): string[] {
  const lists = [...cycling, ...pumpStates, ...pumpTrends, ...(pumpCurve ? [pumpCurve] : [])].flatMap(
    ({ nextSteps }) => (nextSteps && nextSteps.length > 0 ? [nextSteps] : []),
  );
  const steps = lists.flatMap((list) => (list.length > 1 ? list.slice(0, -1) : list));
  const cautions = lists.flatMap((list) => (list.length > 1 ? list.slice(-1) : []));
  return [...new Set([...steps, ...cautions])];
}
