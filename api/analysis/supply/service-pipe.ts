import type { Evidence, ServicePipe } from '../findings.ts';
import type { SupplyCurve } from './supply-curve.ts';

/** Significant digits of k: an interval of a few per cent keeps three that mean something. */
const K_DIGITS = 5;
/** The flow at which the loss is told in words: a bath tap's. */
const TOLD_LPM = 10;

const significant = (value: number) => Number(value.toPrecision(K_DIGITS));
const rounded = (value: number) => Number(value.toFixed(4));

/** The fitted loss of the service pipe as the document gives it. */
export function servicePipeOfDocument({ k, n, kInterval, nInterval, draws, sdBar }: SupplyCurve): ServicePipe {
  return {
    kBarPerLpmN: significant(k),
    exponent: rounded(n),
    ...(kInterval ? { kIntervalBarPerLpmN: [significant(kInterval[0]), significant(kInterval[1])] as const } : {}),
    ...(nInterval ? { exponentInterval: [rounded(nInterval[0]), rounded(nInterval[1])] as const } : {}),
    draws,
    sdBar: rounded(sdBar),
  };
}

/** The loss in a plain sentence, with its intervals. */
export function servicePipeStatements({ k, n, kInterval, nInterval, draws }: SupplyCurve): Evidence['statements'] {
  const three = (value: number) => Number(value.toPrecision(3));
  const intervals =
    kInterval && nInterval
      ? `, k from ${three(kInterval[0])} to ${three(kInterval[1])} and n from ${nInterval[0].toFixed(2)} to ${nInterval[1].toFixed(2)} (95 %)`
      : '';
  return [
    {
      text: `While the household draws, pipe and fittings between the street and the logger take about ${(k * TOLD_LPM ** n).toFixed(2)} bar at ${TOLD_LPM} l/min: k·Qⁿ with k ${three(k)} and n ${n.toFixed(2)}${intervals}, from ${draws} draws.`,
      certainty: kInterval && nInterval ? 'certain' : 'possible',
    },
  ];
}
