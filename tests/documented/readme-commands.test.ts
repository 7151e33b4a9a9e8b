import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../api/command-line/commands.ts';
import { addLogger, addSite, exportedSamples } from '../support/api.ts';
import { findProgram, skipWithout } from '../support/outside-programs.ts';
import { startProgram } from '../support/program.ts';

const root = new URL('../../', import.meta.url);
const readme = readFileSync(new URL('README.md', root), 'utf8');
const { scripts } = JSON.parse(readFileSync(new URL('package.json', root), 'utf8')) as {
  scripts: Record<string, string>;
};

describe("the README's commands", () => {
  it('name scripts and commands that are there', () => {
    const named = [...readme.matchAll(/npm (?:run )?(start|test|demo|bench|check)\b/g)].map((match) => match[1]!);
    expect(named.length).toBeGreaterThan(2);
    for (const name of named) expect(scripts).toHaveProperty(name);
    const commands = [...readme.matchAll(/npx mainsdiary (\w+)/g)].map((match) => match[1]!);
    expect(commands.length).toBeGreaterThan(2);
    for (const name of commands) expect(COMMANDS.map((command) => command.name)).toContain(name);
  });

  it('link to files that are there', () => {
    const links = [...readme.matchAll(/\]\(([^)#]+)\)/g)]
      .map((match) => match[1]!)
      .filter((link) => !link.includes('://'));
    for (const link of links) expect(existsSync(fileURLToPath(new URL(link, root))), link).toBe(true);
  });

  it.skipIf(skipWithout('mosquitto_pub'))('publish a sample with the stock client, exactly as printed', async () => {
    const line = /^mosquitto_pub .*$/m.exec(readme)![0];
    const program = await startProgram();
    try {
      const key = await addLogger(program.base, await addSite(program.base), 'front-hall');
      // Only the port differs: a test doesn't take the one that a running program may have.
      const command = line
        .replace('mosquitto_pub', findProgram('mosquitto_pub')!)
        .replace('-p 1883', `-p ${program.mqttPort}`);
      execFileSync('sh', ['-c', command], { env: { ...process.env, KEY: key } });
      expect((await exportedSamples(program.base, 'front-hall')).map(([, value]) => value)).toEqual([1.482]);
    } finally {
      await program.stop();
    }
  });
});
