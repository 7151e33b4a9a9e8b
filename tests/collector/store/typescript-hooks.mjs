import { readFile } from 'node:fs/promises';
import { register } from 'node:module';
import { fileURLToPath } from 'node:url';
import { isMainThread } from 'node:worker_threads';
import ts from 'typescript';

// Lets a child process of a test run the sources as they are, without a build that could be out of date:
// node --import ./typescript-hooks.mjs child.ts
if (isMainThread) register(import.meta.url);

export async function load(url, context, next) {
  if (!url.startsWith('file:') || !url.endsWith('.ts')) return next(url, context);
  const source = await readFile(fileURLToPath(url), 'utf8');
  const options = { module: ts.ModuleKind.ESNext, target: ts.ScriptTarget.ES2023, verbatimModuleSyntax: true };
  return {
    format: 'module',
    shortCircuit: true,
    source: ts.transpileModule(source, { compilerOptions: options }).outputText,
  };
}
