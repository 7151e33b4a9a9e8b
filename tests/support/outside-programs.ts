import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

/**
 * Programs that tests need beyond npm packages. Each is looked for as an installed program and, where this is Debian
 * and we are root, installed with apt after one line that says so (MAINSDIARY_TEST_INSTALL=0 forbids it).
 */
const OUTSIDE_PROGRAMS = {
  mosquitto: {
    variable: 'MAINSDIARY_TEST_MOSQUITTO',
    paths: ['/usr/sbin/mosquitto', '/usr/local/sbin/mosquitto'],
    package: 'mosquitto',
  },
  mosquitto_pub: {
    variable: 'MAINSDIARY_TEST_MOSQUITTO_PUB',
    paths: ['/usr/bin/mosquitto_pub', '/usr/local/bin/mosquitto_pub'],
    package: 'mosquitto-clients',
  },
  chromium: {
    variable: 'MAINSDIARY_TEST_CHROMIUM',
    paths: ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'],
    package: 'chromium',
  },
} as const;

export type OutsideProgram = keyof typeof OUTSIDE_PROGRAMS;

/** Path of an installed program, or undefined. Only looks; the global set-up is what installs. */
export function findProgram(name: OutsideProgram): string | undefined {
  const entry = OUTSIDE_PROGRAMS[name];
  const told = process.env[entry.variable];
  if (told) return existsSync(told) ? told : undefined;
  const onPath = spawnSync('sh', ['-c', `command -v ${name}`], { encoding: 'utf8' }).stdout?.trim();
  if (onPath) return onPath;
  return entry.paths.find((path) => existsSync(path));
}

/** Prints one line that says what to install and returns true where the program is missing. */
export function skipWithout(name: OutsideProgram): boolean {
  if (findProgram(name)) return false;
  console.log(
    `skipped: ${name} isn't here; install the package ${OUTSIDE_PROGRAMS[name].package}, or set ${OUTSIDE_PROGRAMS[name].variable}`,
  );
  return true;
}

/** Installs what is missing, once, before any test. */
export function installMissingPrograms(): void {
  const missing = (Object.keys(OUTSIDE_PROGRAMS) as OutsideProgram[]).filter((name) => !findProgram(name));
  if (missing.length === 0 || process.env['MAINSDIARY_TEST_INSTALL'] === '0') return;
  if (process.getuid?.() !== 0 || !existsSync('/usr/bin/apt-get')) return;
  const packages = [...new Set(missing.map((name) => OUTSIDE_PROGRAMS[name].package))];
  console.log(`installing for the tests with apt: ${packages.join(', ')} (MAINSDIARY_TEST_INSTALL=0 forbids it)`);
  const environment = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  try {
    execFileSync('apt-get', ['update', '-qq'], {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: environment,
      timeout: 300_000,
    });
    execFileSync('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...packages], {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: environment,
      timeout: 900_000,
    });
  } catch (error) {
    console.log(`apt could not install ${packages.join(', ')}: ${(error as Error).message.split('\n')[0]}`);
  }
}
