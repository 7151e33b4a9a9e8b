/*
 * Prints every rig's figures and their sums: `node dist/tests/labelled/pump/report.js [first seed] [seeds] [family part] [usual|wide|far]`.
 * The gate holds floors on the same ruler.
 */
import { RIG_BREADTHS, RIG_FAMILIES, rigScenario } from './rig-families.ts';
import { type Count, f1, measureRig, type RigFigures, sumOf } from './rig-ruler.ts';

const [firstSeed = '101', seeds = '2', part = '', asked = 'usual'] = process.argv.slice(2);
const breadth = RIG_BREADTHS.find((name) => name === asked) ?? 'usual';
const figures: RigFigures[] = [];
for (const family of RIG_FAMILIES) {
  if (!family.name.includes(part)) continue;
  for (let seed = Number(firstSeed); seed < Number(firstSeed) + Number(seeds); seed++) {
    const measured = measureRig(rigScenario(family, seed, breadth));
    figures.push(measured);
    process.stdout.write(`${lineOf(measured)}\n`);
  }
}
process.stdout.write(`${summaryOf(figures)}\n`);

function share(hit: number, of: number): string {
  return of === 0 ? '-' : (hit / of).toFixed(3);
}

/** Empty where there is neither label nor claim. */
function countText(name: string, { hit, missed, false: unfounded }: Count): string {
  return hit + missed + unfounded === 0 ? '' : `${name} ${hit}+${missed}-${unfounded}`;
}

function lineOf({
  scenario,
  starts,
  demand,
  cyclingDays,
  causes,
  namedFirst,
  weakInlet,
  lowSupply,
  states,
  trends,
  pumpBlamed,
  boosterErrorS,
  analysisS,
}: RigFigures): string {
  const plan = scenario.house.stages[scenario.house.stages.length - 1]!.plan;
  const fault = scenario.house.stages[Math.min(1, scenario.house.stages.length - 1)]!.plan;
  return [
    `${scenario.family} #${scenario.seed}`,
    `starts ${starts.hit + starts.missed} P ${share(starts.hit, starts.hit + starts.false)} R ${share(starts.hit, starts.hit + starts.missed)}`,
    `demand ${share(demand.right, demand.judged)}${demand.missing > 0 ? ` (${demand.missing} unmarked)` : ''}`,
    `days ${cyclingDays.hit}+${cyclingDays.missed}-${cyclingDays.false}`,
    causes ? `cause ${share(causes.right, causes.of)} ${JSON.stringify(namedFirst)}` : JSON.stringify(namedFirst),
    weakInlet ? `weak ${weakInlet.hit}+${weakInlet.missed}-${weakInlet.false}` : '',
    lowSupply
      ? `low ${lowSupply.true.toFixed(0)} min, ${lowSupply.missed.toFixed(1)} missed, ${lowSupply.false.toFixed(1)} false (${lowSupply.falselyCertain.toFixed(1)} certain)`
      : '',
    countText('states', states),
    countText('trends', trends),
    Object.keys(pumpBlamed).length > 0 ? `blamed ${JSON.stringify(pumpBlamed)}` : '',
    boosterErrorS === undefined ? '' : `booster ±${Math.round(boosterErrorS)} s`,
    `[${plan.cutInBar.toFixed(1)}-${fault.cutOutBar.toFixed(1)} bar, vessel ${fault.vesselL.toFixed(1)} l, pump ${fault.runOutLpm.toFixed(0)} l/min, ` +
      `leak ${fault.leakLpm.toFixed(2)}^${fault.leakPower.toFixed(1)} to ${(fault.leakEndBar ?? 0).toFixed(1)}, valve ${fault.valveLpm.toFixed(2)}^${fault.valvePower.toFixed(1)}, ` +
      `street ${scenario.house.streetBar.toFixed(1)}-${scenario.house.swingBar.toFixed(2)}, noise ${(1000 * scenario.house.noiseBar).toFixed(0)} mbar, step ${(1000 * scenario.house.quantumBar).toFixed(1)} mbar, ` +
      `delays ${fault.onDelayS.toFixed(1)}/${fault.offDelayS.toFixed(1)} s]`,
    `${analysisS.toFixed(1)} s`,
  ]
    .filter((text) => text !== '')
    .join(' | ');
}

function summaryOf(all: readonly RigFigures[]): string {
  const lines: string[] = [];
  for (const slow of [1, 10, 60]) {
    const part = all.filter(({ scenario }) => scenario.house.intervalS === slow);
    const starts = sumOf(part.map((figures) => figures.starts));
    const judged = part.reduce((sum, { demand }) => sum + demand.judged, 0);
    const right = part.reduce((sum, { demand }) => sum + demand.right, 0);
    const days = sumOf(part.map(({ cyclingDays }) => cyclingDays));
    const weak = sumOf(part.flatMap(({ weakInlet }) => weakInlet ?? []));
    lines.push(
      `${slow} s: starts P ${share(starts.hit, starts.hit + starts.false)} R ${share(starts.hit, starts.hit + starts.missed)}, ` +
        `demand ${share(right, judged)}, cycling days ${days.hit}+${days.missed}-${days.false} F1 ${f1(days).toFixed(3)}, weak F1 ${f1(weak).toFixed(3)}`,
    );
  }
  const low = all.flatMap(({ lowSupply }) => lowSupply ?? []);
  const minutes = (of: (one: (typeof low)[number]) => number) => low.reduce((sum, one) => sum + of(one), 0).toFixed(0);
  lines.push(
    `low supply before pumps: ${minutes((one) => one.true)} min, ${minutes((one) => one.missed)} missed, ` +
      `${minutes((one) => one.false)} false, of them ${minutes((one) => one.falselyCertain)} certain`,
  );
  for (const figure of ['states', 'trends'] as const) {
    const sum = sumOf(all.map((figures) => figures[figure]));
    lines.push(`${figure}: ${sum.hit}+${sum.missed}-${sum.false} F1 ${f1(sum).toFixed(3)}`);
  }
  for (const cause of ['leak', 'check_valve', 'lost_precharge', 'narrow_differential']) {
    const logs = all.filter(({ scenario, causes }) => scenario.cause === cause && causes);
    const mean = logs.reduce((sum, { causes }) => sum + causes!.right / causes!.of, 0) / logs.length;
    lines.push(`${cause}: first-named right ${mean.toFixed(3)} over ${logs.length} logs`);
  }
  return lines.join('\n');
}
