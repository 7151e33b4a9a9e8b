import type { Writable } from 'node:stream';

/** Resolves when the text has left: a pipe may take a year's findings in many steps, and the process ends afterwards. */
export function writeText(output: Writable, text: string): Promise<void> {
  return new Promise((resolve, reject) => {
    output.write(text, (error) => (error ? reject(error) : resolve()));
  });
}
