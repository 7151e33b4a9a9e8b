import { analyseCommand } from './analyse.ts';
import { backupCommand } from './backup.ts';
import { checkCommand } from './check.ts';
import type { Command } from './command.ts';
import { importCommand } from './import.ts';
import { passwordCommand } from './password.ts';
import { restoreCommand } from './restore.ts';
import { serveCommand } from './serve.ts';
import { simulateCommand } from './simulate.ts';

/** Every command of the program, in the order of `--help`. */
export const COMMANDS: readonly Command[] = [
  serveCommand,
  importCommand,
  analyseCommand,
  simulateCommand,
  backupCommand,
  restoreCommand,
  checkCommand,
  passwordCommand,
];
