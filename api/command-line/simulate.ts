import { createWriteStream } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { isLoggerId } from '../../collector/model/channel.ts';
import { parseRfc3339 } from '../../collector/model/instant.ts';
import { Problem } from '../../collector/model/problem.ts';
import { csvPieces } from '../../simulator/csv-file.ts';
import { runScenario, type ScenarioRun } from '../../simulator/run-scenario.ts';
import { drawScenario, SCENARIO_NAMES, SCENARIOS } from '../../simulator/scenarios.ts';
import { type Command, type GivenOptions, textOf } from './command.ts';

/** Everything is made in memory, about 60 bytes a second simulated: 120 days take some 700 MB. */
const MOST_DAYS = 120;
const MOST_INTERVAL_S = 3600;
const MOST_SPEED = 1_000_000;

export const simulateCommand: Command = {
  name: 'simulate',
  summary: 'makes the log of an invented house, with the true events, as a file or as messages to a broker',
  positional: [],
  options: [
    {
      name: 'scenario',
      value: 'name',
      description: 'which house and street; --list tells',
      example: 'weekday-morning-sag',
    },
    { name: 'list', description: 'lists the scenarios' },
    { name: 'days', value: 'number', fallback: '7', description: `local days, up to ${MOST_DAYS}`, example: '14' },
    { name: 'seed', value: 'number', fallback: '1', description: 'the same seed makes the same bytes', example: '42' },
    { name: 'out', value: 'file', description: 'the log as CSV; .gz is compressed', example: 'log.csv' },
    {
      name: 'truth',
      value: 'file',
      description: 'what was truly so, in the shape of the findings',
      example: 'truth.json',
    },
    { name: 'site', value: 'file', description: 'the description that analyse asks for', example: 'site.json' },
    { name: 'interval', value: 'seconds', description: "replaces the scenario's logging interval", example: '10' },
    { name: 'start', value: 'time', description: 'first instant, RFC 3339', example: '2026-05-04T00:00:00Z' },
    { name: 'broker', value: 'url', description: 'publish instead, QoS 1', example: 'mqtt://127.0.0.1:1883' },
    { name: 'speed', value: 'number', fallback: '1', description: 'so many times real time', example: '3600' },
    { name: 'logger', value: 'id', fallback: 'simulated', description: 'logger to publish as', example: 'front-hall' },
    { name: 'key', value: 'key', description: "that logger's key; also read from MAINSDIARY_LOGGER_KEY" },
  ],
  examples: [
    'mainsdiary simulate --scenario weekday-morning-sag --days 7 --seed 1 --out log.csv --truth truth.json --site site.json',
    'mainsdiary simulate --scenario booster-leak --broker mqtt://127.0.0.1:1883 --logger pump-room --speed 600',
    'mainsdiary simulate --list',
  ],
  async run(_positional, options) {
    if (options['list']) {
      const width = Math.max(...SCENARIO_NAMES.map((name) => name.length));
      const lines = SCENARIO_NAMES.map((name) => `${name.padEnd(width)}  ${SCENARIOS[name].summary}\n`);
      process.stdout.write(lines.join(''));
      return 0;
    }
    const broker = textOf(options, 'broker');
    const out = textOf(options, 'out');
    if (!broker && !out && !options['truth'] && !options['site']) {
      throw new Problem(
        'option_wrong',
        'Nothing to write was named.',
        'Give --out log.csv, --truth truth.json or --broker URL.',
      );
    }
    const run = simulated(options, broker !== undefined);
    if (out) await writeCsv(run, out);
    await writeJson(textOf(options, 'truth'), run.truth);
    await writeJson(textOf(options, 'site'), run.site);
    process.stderr.write(`${run.scenario.name}, seed ${run.scenario.seed}: ${run.rows.timeMs.length} rows\n`);
    if (broker) await publish(broker, run, options);
    return 0;
  },
};

function simulated(options: GivenOptions, live: boolean): ScenarioRun {
  const name = textOf(options, 'scenario');
  if (name === undefined) {
    throw new Problem('option_wrong', 'No scenario was named.', 'Give --scenario NAME; --list names them.');
  }
  const days = numberOf(options, 'days', 7, 1 / 24, MOST_DAYS);
  const seed = numberOf(options, 'seed', 1, 0, 2 ** 32 - 1, true);
  const intervalS =
    options['interval'] === undefined ? undefined : numberOf(options, 'interval', 1, 1, MOST_INTERVAL_S, true);
  return runScenario(drawScenario(name, { days, seed, intervalS, startMs: startOf(options, days, live) }));
}

/** To a broker at real time the log begins now, faster it ends now: a collector refuses stamps of a day hence. */
function startOf(options: GivenOptions, days: number, live: boolean): number | undefined {
  const text = textOf(options, 'start');
  if (text !== undefined) {
    const startMs = parseRfc3339(text);
    if (startMs === undefined) {
      throw new Problem(
        'option_wrong',
        `--start "${text.slice(0, 40)}" is no RFC 3339 time.`,
        'For example --start 2026-05-04T00:00:00Z.',
      );
    }
    return Math.floor(startMs / 1000) * 1000;
  }
  if (!live) return undefined;
  const nowMs = Math.floor(Date.now() / 1000) * 1000;
  return numberOf(options, 'speed', 1, 0.01, MOST_SPEED) > 1 ? nowMs - Math.round(days * 86_400) * 1000 : nowMs;
}

async function publish(url: string, run: ScenarioRun, options: GivenOptions): Promise<void> {
  const { publishRows } = await import('../../simulator/publish.ts');
  const loggerId = textOf(options, 'logger') ?? 'simulated';
  if (!isLoggerId(loggerId)) {
    throw new Problem(
      'option_wrong',
      `--logger "${loggerId.slice(0, 80)}" is no logger name.`,
      'Use 1 to 64 of a-z 0-9 - _.',
    );
  }
  const stop = new AbortController();
  const onSignal = (): void => stop.abort();
  process.once('SIGINT', onSignal);
  process.once('SIGTERM', onSignal);
  try {
    const published = await publishRows({
      brokerUrl: url,
      loggerId,
      key: textOf(options, 'key') ?? process.env['MAINSDIARY_LOGGER_KEY'],
      rows: run.rows,
      arrivedMs: run.arrivedMs,
      speed: numberOf(options, 'speed', 1, 0.01, MOST_SPEED),
      signal: stop.signal,
    });
    process.stderr.write(`published ${published} samples as ${loggerId}\n`);
  } finally {
    process.removeListener('SIGINT', onSignal);
    process.removeListener('SIGTERM', onSignal);
  }
}

async function writeCsv(run: ScenarioRun, path: string): Promise<void> {
  const text = Readable.from(csvPieces(run.rows));
  if (path === '-') {
    for await (const piece of text) {
      if (!process.stdout.write(piece as string)) await new Promise((resolve) => process.stdout.once('drain', resolve));
    }
    return;
  }
  const file = createWriteStream(path);
  try {
    await (path.endsWith('.gz') ? pipeline(text, createGzip(), file) : pipeline(text, file));
  } catch (cause) {
    throw cannotWrite(path, cause);
  }
}

async function writeJson(path: string | undefined, content: unknown): Promise<void> {
  if (path === undefined) return;
  try {
    await writeFile(path, `${JSON.stringify(content)}\n`);
  } catch (cause) {
    throw cannotWrite(path, cause);
  }
}

function cannotWrite(path: string, cause: unknown): Problem {
  const reason = cause instanceof Error ? cause.message : String(cause);
  return new Problem(
    'file_not_written',
    `${path} could not be written: ${reason}`,
    'Name a file in a folder you may write to.',
    {
      cause,
    },
  );
}

function numberOf(
  options: GivenOptions,
  name: string,
  fallback: number,
  least: number,
  most: number,
  whole = false,
): number {
  const text = textOf(options, name);
  if (text === undefined) return fallback;
  const value = Number(text);
  if (
    text.trim() === '' ||
    !Number.isFinite(value) ||
    value < least ||
    value > most ||
    (whole && !Number.isInteger(value))
  ) {
    const kind = whole ? 'a whole number' : 'a number';
    throw new Problem(
      'option_wrong',
      `--${name} "${text.slice(0, 40)}" is not ${kind} from ${Number(least.toPrecision(3))} to ${most}.`,
      `For example --${name} ${fallback}.`,
    );
  }
  return value;
}
