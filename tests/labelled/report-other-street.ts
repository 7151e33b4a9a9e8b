import { analyse } from '../../api/analysis/analyse.ts';
import type { Score } from './event-matching.ts';
import { FAMILIES } from './other-street/families.ts';
import { labelledLog } from './other-street/labelled-log.ts';
import { SEED_SETS } from './other-street/seed-sets.ts';
import { addFigures, type Sum, type SupplyFigures, supplyFigures } from './supply-figures.ts';

/*
 * The table of the second physical model: node dist/tests/labelled/report-other-street.js [tuning|held_out|wide|wide_held_out|seeds|wide:seeds] [families].
 * Held-out seeds are for the closing table only.
 */
const which = process.argv[2] ?? 'tuning';
const isWide = which.startsWith('wide');
const seeds =
  which in SEED_SETS
    ? SEED_SETS[which as keyof typeof SEED_SETS]
    : which
        .replace(/^wide:/, '')
        .split(',')
        .map(Number);
const names = process.argv[3] ? process.argv[3].split(',') : Object.keys(FAMILIES);

const f1 = (score: Score) => (score.f1 === undefined ? '-' : score.f1.toFixed(3));
const counted = (score: Score) =>
  score.truth + score.found === 0 ? '-' : `${f1(score)} ${score.matched}/${score.truth}/${score.found}`;
const mean = ({ sum, count }: Sum, digits = 4) => (count === 0 ? '-' : (sum / count).toFixed(digits));
const root = ({ sum, count }: Sum) => (count === 0 ? '-' : Math.sqrt(sum / count).toFixed(4));
const columns: readonly (readonly [string, number, (figures: SupplyFigures) => string])[] = [
  ['blamed', 7, (f) => f.blamedMin.toFixed(1)],
  ['certain', 8, (f) => f.blamedCertainMin.toFixed(1)],
  ['low F1 m/t/f', 17, (f) => counted(f.low)],
  ['false min', 10, (f) => f.falselyLowMin.toFixed(1)],
  ['certainty wrong', 4, (f) => String(f.certaintyWrong)],
  ['pairs', 15, (f) => counted(f.pairs)],
  ['sag F1', 15, (f) => counted(f.sags)],
  ['wrong', 6, (f) => String(f.sagsWrong)],
  ['depth', 7, (f) => mean(f.depthError)],
  ['draws F1', 22, (f) => counted(f.draws)],
  ['fall', 6, (f) => mean(f.fallError, 3)],
  ['flow', 6, (f) => mean(f.flowError, 3)],
  ['neighb.', 4, (f) => String(f.neighbourTaken)],
  ['RMSE', 7, (f) => root(f.standingSquares)],
  ['in draws', 7, (f) => root(f.inDrawsSquares)],
  ['answered', 6, (f) => (f.answered / f.asked).toFixed(3)],
  ['sd/err', 6, (f) => Math.sqrt(f.saidVariance.sum / f.standingSquares.sum).toFixed(2)],
  ['changes', 11, (f) => counted(f.changes)],
  [
    'faults',
    20,
    (f) =>
      Object.entries(f.faults)
        .map(([kind, score]) => `${kind} ${counted(score)}`)
        .join('; '),
  ],
];

const row = (name: string, figures: SupplyFigures) =>
  name.padEnd(22) + columns.map(([, width, text]) => text(figures).padEnd(width)).join(' ');
console.log(''.padEnd(22) + columns.map(([title, width]) => title.slice(0, width).padEnd(width)).join(' '));
const all: { name: string; figures: SupplyFigures; msPerWeek: number }[] = [];
let mostBytes = 0;
for (const family of names) {
  for (const seed of seeds) {
    const log = labelledLog(family, seed, isWide);
    const before = performance.now();
    const found = analyse(log.rows, log.site);
    const msPerWeek = ((performance.now() - before) * 7) / log.days;
    mostBytes = Math.max(mostBytes, process.memoryUsage().rss);
    const figures = supplyFigures(found, log.truth, log.intervalS, log.metered);
    all.push({ name: log.name, figures, msPerWeek });
    console.log(`${row(log.name, figures)} ${msPerWeek.toFixed(0)} ms/week`);
  }
}
const total = addFigures(all.map(({ figures }) => figures));
console.log(`\n${row(`all ${all.length}`, total)}`);
const least = (pick: (figures: SupplyFigures) => Score) =>
  all
    .filter(({ figures }) => pick(figures).f1 !== undefined)
    .sort((a, b) => pick(a.figures).f1! - pick(b.figures).f1!)
    .slice(0, 5)
    .map(({ name, figures }) => `${name} ${f1(pick(figures))}`)
    .join(', ');
const kinds = Object.values(total.faults).filter((score) => score.f1 !== undefined);
console.log(`worst draws: ${least((f) => f.draws)}\nworst low: ${least((f) => f.low)}`);
console.log(
  `logs with over two sags wrong: ${all
    .filter(({ figures }) => figures.sagsWrong > 2)
    .map(({ name }) => name)
    .join(', ')}`,
);
console.log(`faults, mean over kinds: ${(kinds.reduce((sum, score) => sum + score.f1!, 0) / kinds.length).toFixed(3)}`);
const times = all.map(({ msPerWeek }) => msPerWeek).sort((a, b) => a - b);
console.log(
  `ms a week: median ${times[times.length >> 1]!.toFixed(0)}, most ${times.at(-1)!.toFixed(0)}; most resident ${(mostBytes / 1e6).toFixed(0)} MB with the generator`,
);
