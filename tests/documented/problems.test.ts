import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { PROBLEMS } from '../../api/problems.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** Codes as they are raised: the first argument of a Problem. */
function raisedCodes(): Map<string, string> {
  const codes = new Map<string, string>();
  for (const folder of ['collector', 'api', 'simulator'])
    for (const file of readdirSync(`${ROOT}${folder}`, { recursive: true, encoding: 'utf8' })) {
      if (!file.endsWith('.ts')) continue;
      const text = readFileSync(`${ROOT}${folder}/${file}`, 'utf8');
      for (const match of text.matchAll(/new Problem\(\s*'([a-z0-9_]+)'/g)) codes.set(match[1]!, `${folder}/${file}`);
      // Helpers that take the code: `unfit('calibration_unfit', …)` and the like are told by the words they are made of.
      for (const code of Object.keys(PROBLEMS))
        if (text.includes(`'${code}'`) && file !== 'problems.ts') codes.set(code, file);
    }
  return codes;
}

it('every code that is raised has a status and a title, and none stands in the table for nothing', () => {
  const raised = raisedCodes();
  const untold = [...raised].filter(([code]) => !Object.hasOwn(PROBLEMS, code));
  expect(untold, 'raised, but not in api/problems.ts').toEqual([]);
  expect(
    Object.keys(PROBLEMS).filter((code) => !raised.has(code)),
    'in api/problems.ts, but never raised',
  ).toEqual([]);
});

it('every code is documented in DEVELOPERS.md with its status, and no other', () => {
  const text = readFileSync(`${ROOT}DEVELOPERS.md`, 'utf8');
  const list = /<!-- problems:start -->([\s\S]*)<!-- problems:end -->/.exec(text)?.[1] ?? '';
  const documented = [...list.matchAll(/^\| `([a-z0-9_]+)` \| (\d{3}) \| (.+?) \|$/gm)].map((row) => row.slice(1));
  const expected = Object.entries(PROBLEMS).map(([code, { status, title }]) => [code, String(status), title]);
  expect(documented).toEqual(expected);
});

it('every status is an error of HTTP', () => {
  for (const { status } of Object.values(PROBLEMS)) expect(status >= 400 && status < 600).toBe(true);
});
