import type { FindingsDocument } from '../../../api/analysis/findings.ts';
import type { RigLog } from './booster-rig.ts';

/** Minutes of low supply at a pump's inlet: in all, those not reported, and those reported though the street wasn't low. */
export interface LowMinutes {
  readonly true: number;
  readonly missed: number;
  readonly false: number;
  /** Of the false ones, those marked certain. */
  readonly falselyCertain: number;
}

const LEAST_LOW_MS = 60_000;
const BRIDGED_MS = 120_000;
/** A street this near the threshold may be told either way: an average of readings is seldom off by more. */
const NEAR_BAR = 0.01;

/**
 * Low supply by the definition, from the street as it is with the pump off: below the threshold for at least a minute,
 * recoveries shorter than two bridged. Rows whose street lies at the threshold count neither way.
 * @param stepBar the converter's step: below it nothing is seen
 */
export function lowMinutes(log: RigLog, found: FindingsDocument, thresholdBar: number, stepBar: number): LowMinutes {
  const { timeMs, streetBar } = log;
  const intervalMs = timeMs[1]! - timeMs[0]!;
  const near = Math.max(NEAR_BAR, stepBar);
  const truth = truePeriods(log, thresholdBar, intervalMs);
  const claims = found.lowSupply.map(({ start, end, certainty }) => ({
    fromMs: Date.parse(start),
    toMs: Date.parse(end),
    certain: certainty === 'certain',
  }));
  const rows = { true: 0, missed: 0, false: 0, falselyCertain: 0 };
  let t = 0;
  let c = 0;
  for (let i = 0; i < timeMs.length; i++) {
    const at = timeMs[i]!;
    while (t < truth.length && truth[t]!.toMs <= at) t++;
    while (c < claims.length && claims[c]!.toMs <= at) c++;
    const low = t < truth.length && truth[t]!.fromMs <= at;
    const claim = c < claims.length && claims[c]!.fromMs <= at ? claims[c] : undefined;
    if (low) rows.true++;
    if (low && !claim && streetBar[i]! < thresholdBar - near) rows.missed++;
    if (low || !claim || streetBar[i]! < thresholdBar + near) continue;
    rows.false++;
    if (claim.certain) rows.falselyCertain++;
  }
  const minutes = (count: number) => (count * intervalMs) / 60_000;
  return {
    true: minutes(rows.true),
    missed: minutes(rows.missed),
    false: minutes(rows.false),
    falselyCertain: minutes(rows.falselyCertain),
  };
}

function truePeriods({ timeMs, streetBar }: RigLog, thresholdBar: number, intervalMs: number) {
  const periods: { fromMs: number; toMs: number }[] = [];
  for (let i = 0; i < timeMs.length; i++) {
    if (streetBar[i]! >= thresholdBar) continue;
    const at = timeMs[i]!;
    const last = periods.at(-1);
    if (last && at - last.toMs < BRIDGED_MS) last.toMs = at + intervalMs;
    else periods.push({ fromMs: at, toMs: at + intervalMs });
  }
  return periods.filter(({ fromMs, toMs }) => toMs - fromMs >= LEAST_LOW_MS);
}
