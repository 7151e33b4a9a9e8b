import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { newestResults, readmeTable } from '../bench/bench-results.ts';
import { TRIALS } from '../bench/trials.ts';

const root = new URL('../../', import.meta.url);
const between = /<!-- bench:start -->\n([\s\S]*?)\n<!-- bench:end -->/.exec(
  readFileSync(new URL('README.md', root), 'utf8'),
)?.[1];

describe("the README's figures", () => {
  it('are those of the newest results file', () => {
    const results = newestResults(new URL('tests/bench/results/', root));
    expect(results).toBeDefined();
    expect(between).toBe(readmeTable(results!));
  });
  it('are of trials that there are, in their order, each with a file of its own', () => {
    const names = newestResults(new URL('tests/bench/results/', root))!.rows.map((row) => row.name);
    expect(names).toEqual(TRIALS.map((trial) => trial.name).filter((name) => names.includes(name)));
    for (const trial of TRIALS)
      expect(existsSync(new URL(`tests/bench/${trial.file.replace(/\.js$/, '.ts')}`, root)), trial.file).toBe(true);
  });
});
