import { SCENARIO_NAMES } from '../../simulator/scenarios.ts';
import type { Score } from './event-matching.ts';
import { runLabelled } from './labelled-run.ts';

/*
 * The meter: prints how well the supply side does on every simulated scenario, with the ruler that the gate uses.
 * Arguments: seeds (1,2,3), days (7).
 */
const seeds = (process.argv[2] ?? '1').split(',').map(Number);
const days = Number(process.argv[3] ?? 7);
const score = ({ f1, matched, truth, found }: Score) =>
  (f1 === undefined ? 'no events' : `${f1.toFixed(3)} ${matched}/${truth}/${found}`).padEnd(19);
const bar = (value: number | undefined) => (value === undefined ? '-' : value.toFixed(4)).padEnd(8);

console.log(
  `${'scenario'.padEnd(24)}${['draws', 'sags', 'low supply', 'faults', 'changes'].map((t) => t.padEnd(19)).join('')}` +
    'F1 matched/labelled/found | sag depth error, standing RMSE all and in draws (bar) | blamed min | ms',
);
for (const name of SCENARIO_NAMES) {
  for (const seed of seeds) {
    const { found, measured: m, elapsedMs } = runLabelled(name, seed, days);
    if (!found.standing) continue;
    console.log(
      `${name.padEnd(22)}${seed} ${[m.draws, m.sags, m.lowSupply, m.faults, m.changes].map(score).join('')}` +
        `${bar(m.sagDepthErrorBar)}${bar(m.standingRmse)}${bar(m.standingInDrawsRmse)}` +
        `${m.falseBlameMinutes.toFixed(1).padEnd(6)}${Math.round(elapsedMs)}`,
    );
  }
}
