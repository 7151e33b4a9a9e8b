import { utcOffsetMinutes } from '../../../collector/model/local-time.ts';
import type { SagSummary } from '../findings.ts';
import { wilcoxonSignedRank } from '../statistics/paired.ts';
import { quantile } from '../statistics/quantile.ts';
import { daysToFirm, UNANIMOUS_DAYS } from './days-to-firm.ts';
import { SAG_WINDOWS, type WindowJudgement } from './sags.ts';

/** Fewer days than this give no chance worth printing: the least p of two pairs is a quarter. */
const FEWEST_DAYS_TO_TEST = 3;
const SATURDAY = 6;

/** Over the log: how many days of how many, the usual time and depth, and the chance of it if midday were no different. */
export function summariseSags(judged: readonly WindowJudgement[], timeZone: string): SagSummary[] {
  const summaries: SagSummary[] = [];
  for (const { window } of SAG_WINDOWS) {
    for (const days of ['weekdays', 'weekend'] as const) {
      const of = judged.filter((w) => w.window === window && w.weekday >= SATURDAY === (days === 'weekend'));
      if (of.length === 0) continue;
      const present = of.filter((w) => w.state === 'present');
      const known = of.filter((w) => w.state !== 'unknown');
      const starts = present.map((w) => minuteOfDay(w.startMs!, timeZone));
      const ends = present.map((w) => minuteOfDay(w.endMs!, timeZone));
      const depths = present.map((w) => w.depthBar!);
      const differences = known.flatMap((w) =>
        w.depthBar !== undefined && w.middayFallBar !== undefined ? [w.depthBar - w.middayFallBar] : [],
      );
      summaries.push({
        window,
        days,
        present: present.length,
        judged: known.length,
        unknown: of.length - known.length,
        ...(present.length > 0
          ? {
              usualStartLocal: clock(quantile(starts, 0.5)),
              usualEndLocal: clock(quantile(ends, 0.5)),
              medianDepthBar: quantile(depths, 0.5),
              depthRangeBar: [quantile(depths, 0), quantile(depths, 1)] as const,
            }
          : {}),
        ...(differences.length >= FEWEST_DAYS_TO_TEST && present.length > 0
          ? {
              chance: {
                p: wilcoxonSignedRank(differences).greaterP,
                test: 'Wilcoxon signed-rank, one-sided: the fall in this window against that from 11:00 to 17:00 of the same days',
              },
            }
          : {}),
        daysToFirm: present.length > 0 ? daysToFirm(differences) : Math.max(0, UNANIMOUS_DAYS - known.length),
      });
    }
  }
  return summaries;
}

function minuteOfDay(atMs: number, timeZone: string): number {
  const local = atMs / 60_000 + utcOffsetMinutes(atMs, timeZone);
  return ((local % 1440) + 1440) % 1440;
}

/** To five minutes: a usual time is no sharper. */
function clock(minute: number): string {
  const rounded = (Math.round(minute / 5) * 5) % 1440;
  return `${String(Math.floor(rounded / 60)).padStart(2, '0')}:${String(rounded % 60).padStart(2, '0')}`;
}
