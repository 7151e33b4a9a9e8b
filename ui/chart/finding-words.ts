import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { bar, counted, dateAndClock, duration, flow, percent, sentence, uncertaintyBar } from '../format.ts';
import type { SiteTime } from '../site-time.ts';
import { FAULT_WORDS } from '../terms.ts';
import type { Span } from '../view-state.ts';
import { type FindingAccount, keyOf, times } from './finding-account.ts';

export type { FindingAccount } from './finding-account.ts';

import { cyclingAccounts, stateAccounts } from './pump-finding-words.ts';
import { pumpAsAWhole } from './pump-whole-words.ts';

/**
 * What holds of the whole log, which many runs of a pump would push out of sight; then everything found, in order of time;
 * own draws last, as they are many and ordinary.
 */
export function findingAccounts(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  const accounts = [
    ...lowSupply(findings, time),
    ...sags(findings, time),
    ...cyclingAccounts(findings, time),
    ...stateAccounts(findings, time),
    ...weakInlet(findings, time),
    ...changes(findings, time),
    ...faults(findings, time),
  ].sort((a, b) => a.fromMs - b.fromMs);
  return [...pumpAsAWhole(findings, time), ...accounts, ...draws(findings, time)];
}

/** Those that touch a span. */
export function accountsIn(accounts: readonly FindingAccount[], span: Span): FindingAccount[] {
  return accounts.filter((account) => account.toMs >= span.fromMs && account.fromMs < span.toMs);
}

function lowSupply(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.lowSupply.map((period) => {
    const { fromMs, toMs, words } = times(period.start, period.end, time);
    return {
      key: keyOf('low', fromMs),
      fromMs,
      toMs,
      title: `Low supply, ${words}: lowest ${bar(period.minBar)}`,
      certainty: period.certainty,
      rule: `Standing pressure (what the supply would show with nobody in the property drawing) stayed below ${bar(period.thresholdBar)} for at least 60 s; recoveries shorter than 120 s are bridged. Own draws are not counted. It is certain when the pressure was below by more than its expanded uncertainty for as long as the rule asks.`,
      figures: [
        ['Lasted', duration(toMs - fromMs)],
        [
          'Lowest standing pressure',
          `${bar(period.minBar)} ${uncertaintyBar(2 * period.standardUncertaintyBar)} (k = 2)`,
        ],
        ['Mean', bar(period.meanBar)],
        ['Share truly below', percent(period.belowFraction)],
        ['Seen with no draw', seenWords(period.seenFraction)],
        ['An hour or longer', period.qualifying ? 'yes' : 'no'],
      ],
    };
  });
}

/** Through own draws standing pressure is worked out from the falls at their ends. */
function seenWords(share: number): string {
  const seen = percent(share);
  if (seen === percent(1)) return 'all of it';
  return seen === percent(0)
    ? 'none of it: worked out through own draws'
    : `${seen}; the rest worked out through own draws`;
}

function sags(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.sags.flatMap((sag) => {
    if (sag.state !== 'present' || !sag.start || !sag.end) return [];
    const { fromMs, toMs, words } = times(sag.start, sag.end, time);
    const figures: [string, string][] = [];
    if (sag.depthBar !== undefined)
      figures.push([
        'Depth',
        `${bar(sag.depthBar)}${sag.depthSdBar === undefined ? '' : ` ${uncertaintyBar(2 * sag.depthSdBar)} (k = 2)`}`,
      ]);
    if (sag.nightLevelBar !== undefined) figures.push(['Level at night, 01:00 to 05:00', bar(sag.nightLevelBar)]);
    if (sag.lowestBar !== undefined) figures.push(['Lowest 5-minute mean', bar(sag.lowestBar)]);
    if (sag.lowest) figures.push(['Lowest at', dateAndClock(Date.parse(sag.lowest), time)]);
    if (sag.startsBefore) figures.push(['Start', 'before the window']);
    if (sag.recovered === false) figures.push(['End', 'not recovered an hour after the window']);
    if (sag.reason) figures.push(['Judged', sag.reason]);
    return [
      {
        key: keyOf(`sag-${sag.window}`, fromMs),
        fromMs,
        toMs,
        title: `Sag in the ${sag.window}, ${words}${sag.depthBar === undefined ? '' : `: ${bar(sag.depthBar)} deep`}`,
        certainty: sag.certainty,
        rule: `The 5-minute mean of standing pressure fell below that night’s level by at least ${bar(findings.thresholds.sagMinDepthBar)} in the ${sag.window} (${sag.window === 'morning' ? '05:00 to 11:00' : '17:00 to 23:00'}) and came back. Start and end are the crossings of half the depth.`,
        figures,
      },
    ];
  });
}

function weakInlet(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.weakInlet.map((spell) => {
    const { fromMs, toMs, words } = times(spell.start, spell.end, time);
    return {
      key: keyOf('inlet', fromMs),
      fromMs,
      toMs,
      title: `Weak inlet, ${words}: lowest ${bar(spell.minBar)}`,
      certainty: undefined,
      rule: `The inlet was below ${bar(findings.thresholds.weakInletBar)} while the pump ran.`,
      figures: [
        ['Lasted', duration(toMs - fromMs)],
        ['Lowest', `${bar(spell.minBar)} ${uncertaintyBar(findings.sensorUBar)} (k = 2, sensor)`],
        ...(spell.atRangeEnd
          ? [
              [
                'The sensor',
                'at or below its range: the pump sucks at the main, and the truth may be lower still',
              ] as const,
            ]
          : []),
        ...(spell.pullBar === undefined || spell.standingBar === undefined
          ? []
          : ([
              ['Standing pressure at that moment', bar(spell.standingBar)],
              ['Pulled below it', bar(spell.pullBar)],
            ] as const)),
      ],
    };
  });
}

function changes(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.changes.map((change) => {
    const atMs = Date.parse(change.at);
    const figures: [string, string][] = [
      ['From', bar(change.fromBar)],
      ['To', bar(change.toBar)],
    ];
    if (change.sizeIntervalBar)
      figures.push(['Size, 95 % interval', `${bar(change.sizeIntervalBar[0])} to ${bar(change.sizeIntervalBar[1])}`]);
    if (change.timeInterval)
      figures.push([
        'Time, 95 % interval',
        `${dateAndClock(Date.parse(change.timeInterval[0]), time)} to ${dateAndClock(Date.parse(change.timeInterval[1]), time)}`,
      ]);
    return {
      key: keyOf('change', atMs),
      fromMs: atMs,
      toMs: atMs,
      title: `Lasting change (${change.kind}), ${dateAndClock(atMs, time)}: ${bar(change.fromBar)} to ${bar(change.toBar)}`,
      certainty: undefined,
      rule: 'A level that stays changed for at least three days on each side.',
      figures,
    };
  });
}

function faults(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.faults
    .filter((fault) => fault.kind !== 'quantised')
    .map((fault) => {
      const { fromMs, toMs, words } = times(fault.start, fault.end, time);
      const figures: [string, string][] = [['Lasted', duration(toMs - fromMs)]];
      if (fault.count !== undefined) figures.push(['Samples', counted(fault.count, 'sample')]);
      if (fault.detail) figures.push(['Detail', fault.detail]);
      return {
        key: keyOf(fault.kind, fromMs),
        fromMs,
        toMs,
        title: `${sentence(FAULT_WORDS[fault.kind]).slice(0, -1)}, ${words}`,
        certainty: undefined,
        rule: 'Samples in it are kept and marked, and not used for any other finding.',
        figures,
      };
    });
}

function draws(findings: FindingsDocument, time: SiteTime): FindingAccount[] {
  return findings.draws.map((draw) => {
    const { fromMs, toMs, words } = times(draw.start, draw.end, time);
    const figures: [string, string][] = [
      ['Lasted', duration(toMs - fromMs)],
      ['Mean fall', bar(draw.dropBar)],
    ];
    if (draw.meanLpm !== undefined) figures.push(['Mean flow', flow(draw.meanLpm)]);
    if (draw.litres !== undefined) figures.push(['Volume', `${draw.litres.toFixed(0)} l`]);
    return {
      key: keyOf('draw', fromMs),
      fromMs,
      toMs,
      title: `Own draw, ${words}: fell by ${bar(draw.dropBar)}`,
      certainty: undefined,
      rule: 'A fast fall within seconds, a stay, and a fast recovery: somebody in the property opened an outlet. The supply is not blamed for it.',
      figures,
    };
  });
}
