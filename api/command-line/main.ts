#!/usr/bin/env node
import { readFileSync } from 'node:fs';
import { CommanderError, Option, Command as Parser } from 'commander';
import { Problem } from '../../collector/model/problem.ts';
import type { Command, GivenOptions } from './command.ts';
import { COMMANDS } from './commands.ts';

const EXIT_FAILED = 1;
const EXIT_WRONG_USAGE = 2;
/** Problems that are the caller's: the command was given something that can't be right. */
const USAGE_CODES = new Set(['settings_wrong', 'option_wrong', 'password_needed']);

function build(command: Command): Parser {
  const parser = new Parser(command.name).description(command.summary).exitOverride().showHelpAfterError();
  for (const entry of command.positional)
    parser.argument(entry.required ? `<${entry.name}>` : `[${entry.name}]`, entry.description);
  for (const option of command.options) {
    const flag = option.value === undefined ? `--${option.name}` : `--${option.name} <${option.value}>`;
    const words = [option.description];
    if (option.fallback !== undefined) words.push(`(default ${option.fallback})`);
    if (option.example) words.push(`for example --${option.name} ${option.example}`);
    parser.addOption(new Option(flag, words.join('; ')));
  }
  if (command.examples.length > 0)
    parser.addHelpText('after', `\nExamples:\n${command.examples.map((line) => `  ${line}`).join('\n')}`);
  if (command.notes) parser.addHelpText('after', `\n${command.notes.join('\n')}`);
  parser.action(async () => {
    process.exitCode = await command.run(parser.args, givenOptions(command, parser));
  });
  return parser;
}

/** By their long names as written, not in the parser's camel case. */
function givenOptions(command: Command, parser: Parser): GivenOptions {
  const values = parser.opts<Record<string, string | true | undefined>>();
  const camel = (name: string) => name.replace(/-([a-z0-9])/g, (_, letter: string) => letter.toUpperCase());
  return Object.fromEntries(command.options.map((option) => [option.name, values[camel(option.name)]]));
}

function version(): string {
  const file = new URL('../../../package.json', import.meta.url);
  return (JSON.parse(readFileSync(file, 'utf8')) as { version: string }).version;
}

const program = new Parser('mainsdiary')
  .description("a diary of the water pressure at a house's stop tap")
  .version(version())
  .exitOverride()
  .showHelpAfterError();
for (const command of COMMANDS) program.addCommand(build(command));

// A reader that goes away (`| head`) is no failure of ours.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') process.exit(0);
  throw error;
});

try {
  await program.parseAsync();
} catch (error) {
  process.exitCode = tell(error);
}

function tell(error: unknown): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : EXIT_WRONG_USAGE;
  if (error instanceof Problem) {
    process.stderr.write(`${error.message}\n${error.hint ? `${error.hint}\n` : ''}`);
    return USAGE_CODES.has(error.code) ? EXIT_WRONG_USAGE : EXIT_FAILED;
  }
  process.stderr.write(
    `Something went wrong that this program did not expect: ${error instanceof Error ? error.message : String(error)}\n`,
  );
  if (process.env['MAINSDIARY_LOG_LEVEL'] === 'debug' && error instanceof Error)
    process.stderr.write(`${error.stack}\n`);
  else process.stderr.write('With MAINSDIARY_LOG_LEVEL=debug it says where.\n');
  return EXIT_FAILED;
}
