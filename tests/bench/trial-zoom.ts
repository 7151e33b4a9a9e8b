import { join } from 'node:path';
import { COLUMNS_TYPE } from '../../api/contract/column-bytes.ts';
import { startOfHourMs } from '../../collector/store/hours.ts';
import { PAYLOAD_OF_BLOCK } from '../../collector/store/sqlite/blocks.ts';
import { openPlainFile } from '../../collector/store/sqlite/open-database.ts';
import { runsOfRow } from '../../collector/store/sqlite/tail.ts';
import { startProgram } from '../support/program.ts';
import { createTimedClient } from './ask-timed.ts';
import { median, type TrialResult } from './trials.ts';
import { benchFolder, seriesAddress, YEAR_HOURS, YEAR_START_MS, yearStore } from './year-store.ts';

/*
 * A minute at raw resolution, each time another one, so that nothing is at hand: against a route that does next to
 * nothing on the same connection and the unpacking of the same block. Longer spans are told beside it.
 */
const RUNS = 5;
const MINUTES_A_RUN = 100;
/** Turns that only warm the compilers of both programs. */
const WARMING_RUNS = 4;
const HOUR_MS = 3_600_000;
const SPANS_MS = { hour: HOUR_MS, day: 24 * HOUR_MS, week: 168 * HOUR_MS, month: 730 * HOUR_MS };

const folder = await yearStore(benchFolder());
const database = openPlainFile(join(folder, 'samples.db'), { readOnly: true });
const selectBlocks = database.prepare(`select hour, ${PAYLOAD_OF_BLOCK} as samples from block`);
const blocks = selectBlocks.all() as { hour: number; samples: Uint8Array }[];
database.close();

const program = await startProgram({ folder });
const client = createTimedClient();
const raw: Record<string, number[]> = { empty: [], block: [], bare: [], ours: [] };
/** Spread over the year, none twice. */
const hourOfTurn = (turn: number) => (turn * 1_009) % YEAR_HOURS;
for (let run = -WARMING_RUNS; run < RUNS; run++) {
  const empty: number[] = [];
  const block: number[] = [];
  const ours: number[] = [];
  for (let i = 0; i < MINUTES_A_RUN; i++) {
    const turn = (run + WARMING_RUNS) * MINUTES_A_RUN + i;
    empty.push((await client.ask(`${program.base}/api/session`)).ms);
    const started = performance.now();
    runsOfRow(blocks[hourOfTurn(turn)]!);
    block.push(performance.now() - started);
    const fromMs = startOfHourMs(blocks[hourOfTurn(turn)]!.hour) + (turn % 60) * 60_000;
    ours.push((await client.ask(seriesAddress(program.base, fromMs, fromMs + 60_000, 2_000), COLUMNS_TYPE)).ms);
  }
  if (run < 0) continue;
  raw['empty']!.push(median(empty));
  raw['block']!.push(median(block));
  raw['bare']!.push(median(empty) + median(block));
  raw['ours']!.push(median(ours));
}
for (const [name, spanMs] of Object.entries(SPANS_MS)) {
  raw[name] = [];
  for (let run = 0; run < RUNS; run++) {
    const fromMs = YEAR_START_MS + (run + 1) * 1_400 * HOUR_MS;
    raw[name].push((await client.ask(seriesAddress(program.base, fromMs, fromMs + spanMs, 2_000), COLUMNS_TYPE)).ms);
  }
}
client.end();
await program.stop();
const result: TrialResult = { bare: median(raw['bare']!), ours: median(raw['ours']!), raw };
console.log(JSON.stringify(result));
