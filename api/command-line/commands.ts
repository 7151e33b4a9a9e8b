import { analyseCommand } from './analyse.ts';
import type { Command } from './command.ts';
import { importCommand } from './import.ts';
import { passwordCommand } from './password.ts';
import { serveCommand } from './serve.ts';
import { simulateCommand } from './simulate.ts';

/** Every command of the program, in the order of `--help`. */
export const COMMANDS: readonly Command[] = [
  serveCommand,
  importCommand,
  analyseCommand,
  simulateCommand,
  passwordCommand,
];
