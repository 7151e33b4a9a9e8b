import { mkdirSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { Writable } from 'node:stream';
import { Problem } from '../../collector/model/problem.ts';
import { setOwnerPassword } from '../access/access-file.ts';
import { type Command, textOf } from './command.ts';

export const passwordCommand: Command = {
  name: 'password',
  summary: "set the owner's password, which lets other devices use the page",
  positional: [],
  options: [
    {
      name: 'data',
      value: 'folder',
      fallback: './mainsdiary-data',
      description: 'where the record is kept',
      example: './mainsdiary-data',
    },
  ],
  examples: ['mainsdiary password', 'mainsdiary password --data ./mainsdiary-data < password.txt'],
  async run(_positional, options) {
    const folder = textOf(options, 'data') ?? './mainsdiary-data';
    const password = process.stdin.isTTY ? await askTwice() : await firstLine();
    mkdirSync(folder, { recursive: true, mode: 0o700 });
    await setOwnerPassword(folder, password);
    process.stdout.write("The owner's password is set. A running server uses it at once; all sessions have ended.\n");
    return 0;
  },
};

async function askTwice(): Promise<string> {
  const first = await askHidden("New owner's password (at least 10 characters): ");
  const second = await askHidden('The same again: ');
  if (first !== second) throw new Problem('passwords_differ', 'The two passwords differ', 'Run the command again');
  return first;
}

/** A question on the terminal whose answer is not shown. */
function askHidden(question: string): Promise<string> {
  process.stderr.write(question);
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() });
  const terminal = createInterface({ input: process.stdin, output: silent, terminal: true });
  return new Promise((resolve, reject) => {
    terminal.on('SIGINT', () => {
      terminal.close();
      reject(new Problem('interrupted', 'Nothing was changed', 'Run the command again'));
    });
    terminal.question('', (answer) => {
      terminal.close();
      process.stderr.write('\n');
      resolve(answer);
    });
  });
}

async function firstLine(): Promise<string> {
  for await (const line of createInterface({ input: process.stdin })) return line;
  return '';
}
