import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { gunzipSync } from 'node:zlib';

const folder = fileURLToPath(new URL('../../../shared/data/', import.meta.url));

/** Path of an open data set's file beside the project, or undefined where the data sets are not there. */
export function openData(name: string): string | undefined {
  return existsSync(folder + name) ? folder + name : undefined;
}

/** Prints one line and returns true where the data sets are not there. */
export function skipWithoutOpenData(): boolean {
  if (existsSync(folder)) return false;
  console.log('skipped: the open data sets are not beside the project (../shared/data)');
  return true;
}

/** The lines of a file, plain or gzip, read without any of the program's own code. */
export function linesOf(path: string): string[] {
  const bytes = readFileSync(path);
  const text = (path.endsWith('.gz') ? gunzipSync(bytes) : bytes).toString('utf8');
  const lines = text.split(/\r?\n/);
  if (lines.at(-1) === '') lines.pop();
  return lines;
}
