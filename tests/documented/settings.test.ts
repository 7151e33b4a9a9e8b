import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { environmentName, SETTING_ROWS } from '../../api/settings.ts';

const readme = readFileSync(new URL('../../README.md', import.meta.url), 'utf8');

/** The README's table, as it should stand. */
function settingsTable(): string {
  const rows = SETTING_ROWS.map(
    (row) =>
      `| \`--${row.name}\` | \`${environmentName(row.name)}\` | ${row.fallback === undefined ? '' : `\`${row.fallback}\``} | ${row.meaning} |`,
  );
  return ['| flag | variable | default | meaning |', '|---|---|---|---|', ...rows].join('\n');
}

describe("the README's settings", () => {
  it('are those of the program, no more and no fewer', () => {
    const between = /<!-- settings:start -->\n([\s\S]*?)\n?<!-- settings:end -->/.exec(readme)?.[1];
    expect(between).toBe(settingsTable());
  });
});
