/** One option of a command, as the parser, `--help` and the README's examples need it. */
export interface CommandOption {
  /** Long name without dashes. */
  readonly name: string;
  /** What its value is, for `--help`; undefined for a switch. */
  readonly value?: string | undefined;
  readonly description: string;
  readonly example?: string | undefined;
  readonly fallback?: string | undefined;
}

/** Options as parsed: text for those with a value, true for switches that were given. */
export type GivenOptions = Readonly<Record<string, string | true | undefined>>;

/** A command of the program. `run` gets what was parsed and returns the exit code: 0 done, 1 failed, 2 wrong usage. */
export interface Command {
  readonly name: string;
  readonly summary: string;
  /** Positional arguments; `<required>` or `[optional]` in the parser's notation. */
  readonly positional: readonly { readonly name: string; readonly description: string; readonly required: boolean }[];
  readonly options: readonly CommandOption[];
  readonly examples: readonly string[];
  /** What else `--help` tells, after the examples. */
  readonly notes?: readonly string[] | undefined;
  run(positional: readonly string[], options: GivenOptions): Promise<number>;
}

/** The text of an option that takes a value. */
export function textOf(options: GivenOptions, name: string): string | undefined {
  const value = options[name];
  return typeof value === 'string' ? value : undefined;
}
