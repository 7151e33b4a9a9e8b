import { fileURLToPath } from 'node:url';
import { cruise, type ICruiseResult, type IModule } from 'dependency-cruiser';
import { beforeAll, describe, expect, it } from 'vitest';
import { IMPORT_RULES, type ImportRule, LIBRARY_OWNERS } from './import-rules.ts';

const root = fileURLToPath(new URL('../..', import.meta.url));
let modules: IModule[] = [];

interface Edge {
  readonly from: string;
  readonly to: string;
  readonly typeOnly: boolean;
}

beforeAll(async () => {
  const outcome = await cruise(['collector', 'api', 'ui', 'simulator'], {
    baseDir: root,
    tsPreCompilationDeps: true,
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '^(dist|node_modules/.*/node_modules)' },
    tsConfig: { fileName: 'tsconfig.json' },
  });
  modules = (outcome.output as ICruiseResult).modules;
});

function edges(): Edge[] {
  return modules.flatMap((module) =>
    module.dependencies.map((dependency) => ({
      from: module.source,
      to: dependency.resolved,
      typeOnly: dependency.dependencyTypes.includes('type-only'),
    })),
  );
}

function broken(rule: ImportRule, all: readonly Edge[]): string[] {
  const matches = (pattern: { path: string; pathNot?: string }, path: string) =>
    new RegExp(pattern.path).test(path) && !(pattern.pathNot && new RegExp(pattern.pathNot).test(path));
  return all
    .filter(
      (edge) => matches(rule.from, edge.from) && matches(rule.to, edge.to) && !(rule.typesAllowed && edge.typeOnly),
    )
    .map((edge) => `${edge.from} imports ${edge.to}`);
}

/** Files that reach themselves over imports of values; an import of types only is gone when the program runs. */
function circles(all: readonly Edge[]): string[] {
  const next = new Map<string, string[]>();
  for (const edge of all) next.set(edge.from, [...(next.get(edge.from) ?? []), edge.to]);
  return [...next.keys()].filter((start) => {
    const seen = new Set<string>();
    const waiting = [...(next.get(start) ?? [])];
    for (let path = waiting.pop(); path !== undefined; path = waiting.pop()) {
      if (path === start) return true;
      if (seen.has(path)) continue;
      seen.add(path);
      waiting.push(...(next.get(path) ?? []));
    }
    return false;
  });
}

describe('directions of import', () => {
  it('sees the whole program', () => {
    expect(modules.filter((module) => /^(collector|api|ui|simulator)\//.test(module.source)).length).toBeGreaterThan(
      10,
    );
  });

  for (const rule of IMPORT_RULES)
    it(`${rule.name}: ${rule.reason}`, () => {
      expect(broken(rule, edges()), rule.reason).toEqual([]);
    });

  it('no file imports itself in a circle: a circle has no order in which it can be loaded', () => {
    expect(circles(edges().filter((edge) => !edge.typeOnly))).toEqual([]);
  });

  it.each(LIBRARY_OWNERS)('$library has one owner: $reason', ({ library, owners }) => {
    const importers = new Set(
      edges()
        .filter((edge) => new RegExp(`(^|/)node_modules/(@types/)?${library}/`).test(edge.to) || edge.to === library)
        .map((edge) => edge.from),
    );
    expect([...importers].filter((path) => !owners.includes(path))).toEqual([]);
  });
});

describe('the rules themselves', () => {
  it('catch a planted fault', () => {
    const planted: Edge[] = [
      { from: 'api/analysis/draws.ts', to: 'api/http/app.ts', typeOnly: false },
      { from: 'ui/main.ts', to: 'api/contract/payloads.ts', typeOnly: false },
      { from: 'ui/main.ts', to: 'api/contract/payloads.ts', typeOnly: true },
    ];
    const caught = IMPORT_RULES.flatMap((rule) => broken(rule, planted).map(() => rule.name));
    expect(caught).toEqual(['analysis-is-pure', 'page-imports-only-the-contract-and-the-words']);
  });

  it('catch a planted circle', () => {
    const edge = (from: string, to: string): Edge => ({ from, to, typeOnly: false });
    expect(circles([edge('a.ts', 'b.ts'), edge('b.ts', 'c.ts'), edge('c.ts', 'b.ts')])).toEqual(['b.ts', 'c.ts']);
  });
});
