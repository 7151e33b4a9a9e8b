import type { SagSummary } from '../findings.ts';
import type { SupplyFindings } from '../supply/supply-findings.ts';
import type { SensorBudget } from '../uncertainty/sensor-budget.ts';
import { bar, inWords, plural } from './wording.ts';

/** Two weeks show weekdays and weekends twice: common practice, no source. */
const DAYS_FOR_A_PATTERN = 14;
const DAY_MS = 86_400_000;

/** What is open and what would settle it; `moreDays` is 0 where nothing is left to wait for. */
export function openQuestions(
  found: SupplyFindings,
  summaries: readonly SagSummary[],
  budget: SensorBudget,
  loggedMs: number,
): { open: string[]; moreDays: number } {
  const open: string[] = [];
  if (budget.assumed) {
    open.push('The transducer’s accuracy is not stated; 1 % of its range was assumed. Enter the data sheet’s figure.');
  }
  const possible = found.lowSupply.filter((period) => !period.certain).length;
  if (possible > 0) {
    open.push(
      `${inWords(possible)} low-supply ${possible === 1 ? 'period is' : 'periods are'} within the sensor’s uncertainty of ± ${bar(budget.expandedBar)}: compare the transducer with a gauge at two pressures to settle them.`,
    );
  }
  const unknown = found.sags.filter((window) => window.state === 'unknown').length;
  if (unknown > 0)
    open.push(
      `For ${plural(unknown, 'morning or evening', 'mornings or evenings')} it can’t be told whether the street sagged.`,
    );
  if (found.offsetSteps.length > 0) {
    open.push('The sensor’s zero stepped: check it at atmospheric pressure and against a gauge.');
  }
  if (found.propertyChange) {
    open.push('Check that the stop tap is fully open and the strainer clean, then compare the running pressure again.');
  }
  const weak = summaries.some((summary) => summary.present > 0 && (summary.chance?.p ?? 1) >= 0.05);
  if (weak) open.push('Some sags were seen too seldom to rule out chance: more days will tell.');
  if (found.lowSupply.length > 0 || summaries.some((summary) => summary.present > 0)) {
    open.push(
      'Whether the loss is in the street or in a shared service pipe can’t be told from one logger: a reading at a neighbour’s or at the boundary at the same hour would.',
    );
  }
  const moreDays = Math.max(0, DAYS_FOR_A_PATTERN - Math.floor(loggedMs / DAY_MS));
  return { open, moreDays: Math.max(moreDays, weak ? 7 : 0) };
}
