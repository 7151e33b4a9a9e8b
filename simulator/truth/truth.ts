import { formatRfc3339 } from '../../collector/model/instant.ts';
import { blindSpells, type FaultLabel, type Rows } from '../faults.ts';
import type { TrueColumns } from '../house.ts';
import type { Scenario } from '../scenario.ts';
import { trueChanges } from './changes.ts';
import { type TrueDraw, trueDraws } from './draws.ts';
import { trueLowSupply } from './low-supply.ts';
import { trueCycling, trueWeakInlet } from './pump.ts';
import { truePumpStates } from './pump-states.ts';
import { trueSags } from './sags.ts';

const GRID_S = 60;

/** The content of SITE.json for a scenario. */
export function siteOf(scenario: Scenario): Record<string, unknown> {
  return {
    timeZone: scenario.timeZone,
    intervalS: scenario.intervalS,
    sensor: {
      position: scenario.position,
      rangeBar: scenario.sensor.rangeBar,
      accuracyBar: scenario.sensor.accuracyBar,
      heightAboveSupplyPointM: 0,
    },
    flowMeter: scenario.channels.flow
      ? { meters: 'household draw only', value: 'mean over the interval ending at time' }
      : null,
    thresholds: scenario.thresholds,
    ...(scenario.pump === undefined ? {} : { pump: scenario.pump }),
  };
}

/** The findings that a perfect analysis would give, in the findings document's shape. */
export function truthOf(
  scenario: Scenario,
  columns: TrueColumns,
  rows: Rows,
  faults: readonly FaultLabel[],
): Record<string, unknown> {
  const { startMs, endMs, sensor, intervalS, thresholds } = scenario;
  const blind = blindSpells(scenario.faults);
  const incoming = scenario.position === 'incoming';
  const supplySeen = scenario.position !== 'pump_outlet';
  const draws = incoming ? trueDraws(columns, { ...sensor, intervalS, metered: scenario.channels.flow }) : [];
  const { seen, hidden } = splitByBlindness(draws, blind);
  const withPump = scenario.house.booster.length > 0;
  const runs = withPump ? columns.pumpRuns : [];
  // Limits ±a of a rectangular distribution, and a converter step: u² = a²/3 + q²/12 (JCGM 100, 4.3.7 and F.2.2.1); k = 2.
  const expandedBar = 2 * Math.sqrt(sensor.accuracyBar ** 2 / 3 + sensor.stepBar ** 2 / 12);
  const stepAt = (atMs: number): number => {
    for (const fault of scenario.faults) if (fault.kind === 'offset_step' && fault.atMs === atMs) return fault.byBar;
    return 0;
  };
  const distinct = countDistinct(rows.timeMs);
  const expected = Math.round((endMs - startMs) / (intervalS * 1000));
  return {
    simulated: {
      scenario: scenario.name,
      seed: scenario.seed,
      timeZone: scenario.timeZone,
      position: scenario.position,
    },
    series: { start: formatRfc3339(startMs), end: formatRfc3339(endMs), samples: rows.timeMs.length, intervalS },
    ...(supplySeen ? { standing: standingGrid(columns) } : {}),
    draws: seen.map(drawEntry),
    hiddenDraws: hidden.map(drawEntry),
    sags: supplySeen
      ? trueSags(startMs, columns.standingBar, scenario.timeZone, thresholds.sagMinDepthBar).map((sag) => ({
          day: sag.day,
          window: sag.window,
          state: sag.state,
          ...(sag.startMs === undefined ? {} : { start: formatRfc3339(sag.startMs) }),
          ...(sag.lowestMs === undefined ? {} : { lowest: formatRfc3339(sag.lowestMs) }),
          ...(sag.endMs === undefined ? {} : { end: formatRfc3339(sag.endMs) }),
          ...(sag.depthBar === undefined ? {} : { depthBar: rounded(sag.depthBar) }),
          ...(sag.startsBefore ? { startsBefore: true } : {}),
          ...(sag.recovered === false ? { recovered: false } : {}),
        }))
      : [],
    lowSupply: supplySeen
      ? trueLowSupply(startMs, columns.standingBar, thresholds.lowSupplyBar, expandedBar, blind).map((low) => ({
          ...interval(low),
          minBar: rounded(low.minBar),
          thresholdBar: thresholds.lowSupplyBar,
          certainty: low.certainty,
        }))
      : [],
    pumpStarts: runs
      .filter((run) => !blind.some((spell) => spell.startMs <= run.startMs && run.startMs < spell.endMs))
      .map((run) => ({
        start: formatRfc3339(Math.round(run.startMs)),
        ...(run.stopMs === undefined ? {} : { stop: formatRfc3339(Math.round(run.stopMs)) }),
        onDemand: run.onDemand,
      })),
    cycling: trueCycling(runs, scenario.causes).map((episode) => ({
      ...interval(episode),
      kind: episode.kind,
      starts: episode.starts,
      startsPerHour: rounded(episode.startsPerHour),
      causes: episode.causes,
    })),
    weakInlet:
      scenario.position === 'pump_inlet' || scenario.channels.inlet
        ? trueWeakInlet(columns, thresholds.weakInletBar).map((weak) => ({
            ...interval(weak),
            minBar: rounded(weak.minBar),
          }))
        : [],
    ...(withPump
      ? {
          pumpStates: truePumpStates(scenario, columns).map((state) => ({ kind: state.kind, ...interval(state) })),
        }
      : {}),
    faults: faults.map((fault) => ({ kind: fault.kind, ...interval(fault) })),
    changes: trueChanges(columns, scenario.changes, stepAt).map((change) => ({
      at: formatRfc3339(change.atMs),
      kind: change.kind,
      fromBar: rounded(change.fromBar),
      toBar: rounded(change.toBar),
    })),
    coverage: { expected, received: distinct, validFraction: rounded(1 - unusable(scenario) / expected) },
  };
}

/** Samples that are missing, frozen, out of range, wrongly stamped or a spike. */
function unusable(scenario: Scenario): number {
  let count = 0;
  for (const spell of blindSpells(scenario.faults)) {
    count += (spell.endMs - spell.startMs) / (scenario.intervalS * 1000);
  }
  return count + scenario.faults.filter((fault) => fault.kind === 'spike').length;
}

function standingGrid(columns: TrueColumns): { start: string; stepS: number; bar: number[] } {
  const first = Math.ceil(columns.startMs / (GRID_S * 1000)) * GRID_S * 1000;
  const offset = (first - columns.startMs) / 1000;
  const points = Math.floor((columns.standingBar.length - offset) / GRID_S);
  const bar = Array.from({ length: points }, (_, point) => {
    let sum = 0;
    const from = offset + point * GRID_S;
    for (let i = from; i < from + GRID_S; i++) sum += columns.standingBar[i]!;
    return rounded(sum / GRID_S);
  });
  return { start: formatRfc3339(first), stepS: GRID_S, bar };
}

function splitByBlindness(
  draws: readonly TrueDraw[],
  blind: readonly { startMs: number; endMs: number }[],
): { seen: TrueDraw[]; hidden: TrueDraw[] } {
  const seen: TrueDraw[] = [];
  const hidden: TrueDraw[] = [];
  for (const draw of draws) {
    let covered = 0;
    for (const spell of blind) {
      covered += Math.max(0, Math.min(draw.endMs, spell.endMs) - Math.max(draw.startMs, spell.startMs));
    }
    (covered * 2 > draw.endMs - draw.startMs ? hidden : seen).push(draw);
  }
  return { seen, hidden };
}

function drawEntry(draw: TrueDraw): Record<string, unknown> {
  return {
    ...interval(draw),
    dropBar: rounded(draw.dropBar),
    meanLpm: rounded(draw.meanLpm),
    ...(draw.optional ? { optional: true } : {}),
  };
}

function interval(span: { readonly startMs: number; readonly endMs: number }): { start: string; end: string } {
  return { start: formatRfc3339(Math.round(span.startMs)), end: formatRfc3339(Math.round(span.endMs)) };
}

function countDistinct(timeMs: Float64Array): number {
  const sorted = Float64Array.from(timeMs).sort();
  let count = 0;
  for (let i = 0; i < sorted.length; i++) if (i === 0 || sorted[i] !== sorted[i - 1]) count++;
  return count;
}

function rounded(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}
