import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { Change, Draw, FindingsDocument, LowSupply, Sag } from './findings.ts';
import type { LevelChange } from './supply/level-changes.ts';
import { LASTING_MS } from './supply/level-changes.ts';
import type { LowPeriod } from './supply/low-supply.ts';
import type { OwnDraw } from './supply/own-draw.ts';
import { isBeyondDoubt, type WindowJudgement } from './supply/sags.ts';
import type { StandingPressure } from './supply/standing-pressure.ts';
import type { SupplyFindings } from './supply/supply-findings.ts';

/** Nearest millibar tenth: finer digits are noise and make documents large. */
function digits(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}

function moment(atMs: number): string {
  return formatRfc3339(Math.round(atMs / 1000) * 1000);
}

export function standingOfDocument(standing: StandingPressure): NonNullable<FindingsDocument['standing']> {
  const known = (value: number) => (Number.isFinite(value) ? digits(value) : null);
  return {
    start: formatRfc3339(standing.startMs),
    stepS: standing.stepMs / 1000,
    bar: Array.from(standing.bar, known),
    sdBar: Array.from(standing.sdBar, known),
    interpolated: Array.from(standing.interpolated, (mark): 0 | 1 => (mark === 1 ? 1 : 0)),
  };
}

export function drawsOfDocument(draws: readonly OwnDraw[]): Draw[] {
  return draws.map(({ startMs, endMs, dropBar, meanLpm }) => ({
    start: formatRfc3339(startMs),
    end: formatRfc3339(endMs),
    dropBar: Number.isFinite(dropBar) ? digits(dropBar) : 0,
    ...(meanLpm === undefined
      ? {}
      : { meanLpm: digits(meanLpm), litres: digits((meanLpm * (endMs - startMs)) / 60_000) }),
  }));
}

export function sagsOfDocument(sags: readonly WindowJudgement[], minDepthBar: number): Sag[] {
  return sags.map((sag) => ({
    day: sag.day,
    window: sag.window,
    state: sag.state,
    ...(sag.startMs === undefined ? {} : { start: moment(sag.startMs) }),
    ...(sag.lowestMs === undefined ? {} : { lowest: moment(sag.lowestMs) }),
    ...(sag.endMs === undefined ? {} : { end: moment(sag.endMs) }),
    ...(sag.depthBar === undefined ? {} : { depthBar: digits(sag.depthBar) }),
    ...(sag.depthSdBar === undefined
      ? {}
      : {
          depthSdBar: digits(sag.depthSdBar),
          certainty: isBeyondDoubt(sag.depthBar!, sag.depthSdBar, minDepthBar) ? 'certain' : 'possible',
        }),
    ...(sag.nightLevelBar === undefined ? {} : { nightLevelBar: digits(sag.nightLevelBar) }),
    ...(sag.lowestBar === undefined ? {} : { lowestBar: digits(sag.lowestBar) }),
    ...(sag.startsBefore === undefined ? {} : { startsBefore: sag.startsBefore }),
    ...(sag.recovered === undefined ? {} : { recovered: sag.recovered }),
    ...(sag.reason === undefined ? {} : { reason: sag.reason }),
  }));
}

export function lowSupplyOfDocument(periods: readonly LowPeriod[], thresholdBar: number): LowSupply[] {
  return periods.map((period) => ({
    start: moment(period.startMs),
    end: moment(period.endMs),
    minBar: digits(period.minBar),
    lowestAt: moment(period.lowestMs),
    meanBar: digits(period.meanBar),
    thresholdBar: digits(thresholdBar),
    certainty: period.certain ? 'certain' : 'possible',
    belowFraction: digits(period.belowFraction),
    seenFraction: digits(period.seenFraction),
    qualifying: period.qualifying,
    standardUncertaintyBar: digits(period.standardUncertaintyBar),
  }));
}

export function changesOfDocument(found: SupplyFindings, startMs: number, endMs: number, intervalS: number): Change[] {
  const change = (kind: Change['kind'], level: LevelChange): Change => ({
    at: moment(level.atMs),
    kind,
    fromBar: digits(level.fromBar),
    toBar: digits(level.toBar),
    sizeIntervalBar: [digits(level.sizeIntervalBar[0]), digits(level.sizeIntervalBar[1])],
    timeInterval: [moment(level.timeIntervalMs[0]), moment(level.timeIntervalMs[1])],
  });
  const sensor = found.offsetSteps
    .filter(({ atMs }) => atMs - startMs >= LASTING_MS && endMs - atMs >= LASTING_MS)
    .map(({ atMs, beforeBar, stepBar, sdBar }) =>
      change('sensor', {
        atMs,
        fromBar: beforeBar,
        toBar: beforeBar + stepBar,
        sizeIntervalBar: [stepBar - 2 * sdBar, stepBar + 2 * sdBar],
        // The step lies between two readings, or in the one that was caught half way.
        timeIntervalMs: [atMs - 1000 * intervalS, atMs + 1000 * intervalS],
      }),
    );
  return [
    ...found.supplyChanges.map((level) => change('supply', level)),
    ...(found.propertyChange ? [change('property', found.propertyChange)] : []),
    ...sensor,
  ];
}
