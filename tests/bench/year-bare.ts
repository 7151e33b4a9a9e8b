import { join } from 'node:path';
import { decodeDay } from '../../collector/store/minute-summary.ts';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';

/*
 * Bare readings of the year in a process that has done nothing before. `minutes FOLDER`: every day's minutes read and
 * unpacked. `rows FILE`: GROUP BY over a row a sample. Prints milliseconds, opening not counted.
 */
const [kind, path] = process.argv.slice(2) as [string, string];
const database = openPlainFile(kind === 'minutes' ? join(path, 'samples.db') : path, { readOnly: true });
const started = performance.now();
let found = 0;
if (kind === 'minutes') {
  const rows = database.prepare('select day, payload from day_summary order by logger, channel, day').all();
  for (const { day, payload } of rows as { day: number; payload: Uint8Array }[])
    for (const minutes of decodeDay(day, payload)) found += minutes.minute.length;
} else {
  const [from, step] = process.argv.slice(4).map(Number) as [number, number];
  found = database
    .prepare(
      `select min(value), max(value), avg(value), count(*) from sample
         group by (at_ms - cast(? as integer)) / cast(? as integer)`,
    )
    .all(from, step).length;
}
const ms = performance.now() - started;
if (found === 0) throw new Error('nothing was read');
console.log(JSON.stringify({ ms, found }));
