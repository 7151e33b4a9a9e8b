import { mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { encodeRuns } from '../../collector/store/block-codec.ts';
import { CHANNEL_NUMBER, DAY_MS, HOUR_MS, HOURS_PER_DAY, startOfHourMs } from '../../collector/store/hours.ts';
import { encodeDay, minutesOf } from '../../collector/store/minute-summary.ts';
import { describeBlock } from '../../collector/store/sqlite/blocks.ts';
import { BLOCK_ROW_BYTES, DAY_ROW_BYTES } from '../../collector/store/sqlite/migrations.ts';
import { openDatabase } from '../../collector/store/sqlite/open-database.ts';
import { STORE_FILE } from '../../collector/store/sqlite/open-store.ts';
import { createSettings } from '../../collector/store/sqlite/settings.ts';

/** A store of many sealed hours, each of a few samples: what a fleet leaves behind, in a file that can be made in minutes. */
export interface LargeStore {
  readonly loggers: number;
  readonly hours: number;
  readonly samplesAnHour: number;
  /** Hours from 1970: the record ends before it. */
  readonly endHour: number;
}

/** Days that differ; payloads repeat after them, since their times count from the hour. */
const PATTERNS = 16;
const HOURS_A_TRANSACTION = 24;

/**
 * Writes the store into `folder` (a STORE_FILE that is there goes). Seals, counts and minutes are true: a full check
 * finds nothing. Rows lie in the order in which sealing would have written them.
 */
export function makeLargeStore(folder: string, size: LargeStore, onDay: (share: number) => void = () => {}): void {
  const path = join(folder, STORE_FILE);
  for (const suffix of ['', '-wal', '-shm']) rmSync(`${path}${suffix}`, { force: true });
  openDatabase(path).close();
  const database = openDatabase(path);
  // A made store may be made again; only its making is in a hurry.
  database.pragma('journal_mode = OFF');
  database.pragma('synchronous = OFF');
  database.pragma('cache_size = -262144');
  const { loggers, hours, samplesAnHour, endHour } = size;
  const firstDay = Math.ceil((endHour - hours) / HOURS_PER_DAY);
  const days = Math.floor(hours / HOURS_PER_DAY);
  const channel = CHANNEL_NUMBER.pressure;
  const stepMs = Math.floor(HOUR_MS / samplesAnHour);

  const runOf = (pattern: number, hourOfDay: number, startMs: number) => {
    const timeMs = new Float64Array(samplesAnHour);
    const value = new Float64Array(samplesAnHour);
    for (let i = 0; i < samplesAnHour; i++) {
      timeMs[i] = startMs + i * stepMs;
      value[i] = (2500 + ((pattern * 131 + hourOfDay * 37 + i * 53) % 700)) / 1000;
    }
    return { unit: 'bar', timeMs, value, flags: undefined };
  };
  const patterns = Array.from({ length: PATTERNS }, (_, pattern) => {
    const runs = Array.from({ length: HOURS_PER_DAY }, (_, hour) => runOf(pattern, hour, startOfHourMs(hour)));
    return {
      parts: runs.map((run, hour) => encodeRuns(startOfHourMs(hour), [run], 'deflated')),
      day: encodeDay(0, minutesOf(runs)),
    };
  });

  const settings = createSettings(database);
  const insertNumber = database.prepare('insert into logger_number (number, id) values (?, ?)');
  const insertLatest = database.prepare('insert into latest values (?,?,?,?,?,?,?,?)');
  const insertWeight = database.prepare('insert into weight (day, logger, bytes) values (?,?,?)');
  const insertPart = database.prepare('insert into block_payload (id, part) values (?, ?)');
  const insertDay = database.prepare('insert into day_summary values (?,?,?,1,?)');
  const sample = describeBlock([runOf(0, 0, 0)], { firstS: 1, lastS: 1, largestS: 1 });
  const columns = Object.keys(sample);
  const insertBlock = database.prepare(
    `insert into block (id, logger, channel, hour, version, ${columns.join(', ')})
     values (@id, @logger, @channel, @hour, 1, ${columns.map((name) => `@${name}`).join(', ')})`,
  );

  database.transaction(() => {
    for (let number = 1; number <= loggers; number++) {
      const id = `logger-${String(number).padStart(4, '0')}`;
      const siteId = `site-${String(number).padStart(4, '0')}`;
      const createdMs = firstDay * DAY_MS;
      const thresholds = { lowSupplyBar: 0.7, weakInletBar: 0.3, sagMinDepthBar: 0.3 };
      void settings.port.putSite({
        id: siteId,
        name: `${number} Sample Row`,
        timeZone: 'Europe/London',
        createdMs,
        thresholds,
        invented: true,
      });
      void settings.port.putLogger({ id, createdMs, keySha256: '0'.repeat(64) });
      void settings.port.addPlacement({
        loggerId: id,
        fromMs: createdMs,
        siteId,
        position: 'incoming',
        heightAboveSupplyPointM: 0,
      });
      void settings.port.addChannelSetting({ loggerId: id, channel: 'pressure', unit: 'bar', fromMs: createdMs });
      insertNumber.run(number, id);
      const last = runOf((number + days - 1) % PATTERNS, 23, startOfHourMs((firstDay + days) * HOURS_PER_DAY - 1));
      const lastMs = last.timeMs.at(-1)!;
      const count = days * HOURS_PER_DAY * samplesAnHour;
      insertLatest.run(number, channel, createdMs, lastMs, last.value.at(-1), 'bar', lastMs + 1000, count);
    }
  })();

  let id = 0;
  const lag = { firstS: 1, lastS: 1, largestS: 1 };
  const writeDay = database.transaction((day: number) => {
    for (let hour = 0; hour < HOURS_A_TRANSACTION; hour++) {
      for (let logger = 1; logger <= loggers; logger++) {
        const pattern = (logger + day - firstDay) % PATTERNS;
        const number = day * HOURS_PER_DAY + hour;
        id += 1;
        const described = describeBlock([runOf(pattern, hour, startOfHourMs(number))], lag);
        insertBlock.run({ id, logger, channel, hour: number, ...described });
        insertPart.run(id * 1024, patterns[pattern]!.parts[hour]);
      }
    }
    for (let logger = 1; logger <= loggers; logger++) {
      const { parts, day: minutes } = patterns[(logger + day - firstDay) % PATTERNS]!;
      insertDay.run(logger, channel, day, minutes);
      const bytes = parts.reduce((sum, part) => sum + part.length + BLOCK_ROW_BYTES, DAY_ROW_BYTES + minutes.length);
      if (day >= firstDay + days - 30) insertWeight.run(day, logger, bytes);
    }
  });
  for (let day = firstDay; day < firstDay + days; day++) {
    writeDay(day);
    onDay((day - firstDay + 1) / days);
  }
  const perDay = patterns[0]!;
  const bytes = perDay.parts.reduce(
    (sum, part) => sum + part.length + BLOCK_ROW_BYTES,
    DAY_ROW_BYTES + perDay.day.length,
  );
  database.transaction(() => {
    for (let logger = 1; logger <= loggers; logger++) insertWeight.run(0, logger, bytes * days);
  })();
  database.pragma('journal_mode = WAL');
  database.close();
}

// `node dist/tests/bench/make-large-store.js FOLDER [LOGGERS] [HOURS]`: 1,000 loggers of 8,800 hours take some 1.7 GB.
if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [folder, loggers = '1000', hours = '8800'] = process.argv.slice(2);
  if (folder === undefined) throw new Error('name the folder to write the store into');
  const endHour = Math.floor(Date.now() / DAY_MS) * HOURS_PER_DAY;
  const size = { loggers: Number(loggers), hours: Number(hours), samplesAnHour: 10, endHour };
  mkdirSync(folder, { recursive: true });
  makeLargeStore(folder, size, (share) => process.stderr.write(`\r${Math.round(100 * share)} %`));
}
