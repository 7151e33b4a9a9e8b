import { readFileSync } from 'node:fs';
import { networkInterfaces } from 'node:os';
import pino from 'pino';
import type { Log } from '../../collector/ports.ts';
import { holdDataFolder } from '../../collector/store/data-folder.ts';
import { compose, type Listening, type Program } from '../compose.ts';
import { readSettings, SETTING_ROWS, type ServeSettings } from '../settings.ts';
import { systemClock } from '../system-clock.ts';
import { type Command, type GivenOptions, textOf } from './command.ts';

/** Rounds of asking at the end: a second signal while parts end is a person who won't wait. */
const EXIT_IMPATIENT = 1;

export const serveCommand: Command = {
  name: 'serve',
  summary: "takes the loggers' messages and serves the page",
  positional: [],
  options: [
    ...SETTING_ROWS.map((row) => ({
      name: row.name,
      value: row.value,
      description: row.meaning,
      fallback: row.fallback,
      example: row.example,
    })),
    { name: 'demo', description: 'with invented houses, four weeks of history and live loggers' },
  ],
  examples: [
    'mainsdiary serve',
    'mainsdiary serve --demo --data ./demo-data',
    'mainsdiary serve --http-host 0.0.0.0 --tls-cert ./certificate.pem --tls-key ./key.pem',
  ],
  run: (_positional, options) => serve(options),
};

async function serve(options: GivenOptions): Promise<number> {
  const flags = Object.fromEntries(SETTING_ROWS.map((row) => [row.name, textOf(options, row.name)]));
  const settings = readSettings({ flags, environment: process.env, demo: options['demo'] === true });
  // Taken before anything is opened: two servers on one record would each believe that they are the only writer.
  const hold = holdDataFolder(settings.dataFolder);
  try {
    const program = compose(settings, {
      clock: systemClock,
      log: createLog(settings),
      version: version(),
      commandToken: hold.token,
    });
    // Asked for from here on: a signal during the start must end what has been started so far.
    const ending = untilSignal(program);
    const listening = await program.start();
    hold.announce(localAddress(settings, listening));
    tell(settings, listening);
    await ending;
    return 0;
  } finally {
    hold.release();
  }
}

/** Resolves once a signal came and every part has ended. */
function untilSignal(program: Program): Promise<void> {
  return new Promise((resolve) => {
    let asked = false;
    const end = () => {
      if (asked) process.exit(EXIT_IMPATIENT);
      asked = true;
      process.stderr.write('Ending; what was acknowledged is stored.\n');
      void program.stop().then(resolve);
    };
    process.on('SIGINT', end);
    process.on('SIGTERM', end);
  });
}

function tell(settings: ServeSettings, listening: Listening): void {
  const lines = [
    ...listening.notes,
    ...pageAddresses(settings, listening).map((address) => `Mains Diary is on ${address}`),
  ];
  if (settings.broker !== undefined) lines.push(`Messages come from the broker ${settings.broker}`);
  else
    lines.push(
      `Loggers publish to mqtt://${settings.mqttHost}:${listening.mqttPort}${listening.mqttTlsPort === undefined ? '' : `, with TLS to port ${listening.mqttTlsPort}`}`,
    );
  lines.push(`The record is in ${settings.dataFolder}`);
  if (settings.demo)
    lines.push('The houses are invented. Their history is being written; the page shows how far it is.');
  process.stdout.write(`${lines.join('\n')}\n`);
}

/** Addresses that can be typed into a browser: a server on every address is reached by each of this machine's. */
function pageAddresses(settings: ServeSettings, listening: Listening): string[] {
  if (!listensEverywhere(settings)) return [listening.url];
  const { protocol } = new URL(listening.url);
  const own = Object.values(networkInterfaces()).flatMap((entries) => entries ?? []);
  return own
    .filter((entry) => entry.family === 'IPv4')
    .map((entry) => `${protocol}//${entry.address}:${listening.httpPort}`);
}

function listensEverywhere(settings: ServeSettings): boolean {
  return settings.httpHost === '0.0.0.0' || settings.httpHost === '::';
}

/** How commands of the same machine reach this server, whatever address it listens on. */
function localAddress(settings: ServeSettings, listening: Listening): string {
  return listensEverywhere(settings)
    ? `${new URL(listening.url).protocol}//127.0.0.1:${listening.httpPort}`
    : listening.url;
}

function createLog(settings: ServeSettings): Log {
  // On standard error, so that standard output holds only what was asked for; written at once, so that nothing is
  // missing after a crash.
  return pino({ level: settings.logLevel }, pino.destination({ dest: 2, sync: true }));
}

function version(): string {
  const file = new URL('../../../package.json', import.meta.url);
  return (JSON.parse(readFileSync(file, 'utf8')) as { version: string }).version;
}
