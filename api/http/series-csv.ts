import type { Channel } from '../../collector/model/channel.ts';
import { interpretations } from '../../collector/model/interpretation.ts';
import type { SentRun } from '../../collector/model/series.ts';
import { applyMap, toNineSignificantDigits } from '../../collector/model/units.ts';
import type { Store } from '../../collector/store/port.ts';

export const CSV_HEADER = 'time,value,value_as_sent,unit_as_sent';
/** Rows made in one turn; in between, arriving samples have theirs. */
const ROWS_A_TURN = 4_000;

/**
 * Every sample of a channel as CSV (RFC 4180: CRLF, one header line), in bounded memory. `value` is converted by what is
 * set now and empty where it can't be; times have milliseconds. No field needs quotes: they are numbers, times and units.
 */
export async function* seriesCsv(
  store: Store,
  loggerId: string,
  channel: Channel,
  fromMs: number,
  toMs: number,
): AsyncGenerator<string> {
  const settings = await store.channelSettings(loggerId);
  const calibrations = await store.calibrations(loggerId);
  yield `${CSV_HEADER}\r\n`;
  for await (const run of store.runs(loggerId, channel, fromMs, toMs)) {
    const stretches = interpretations(channel, run.unit, settings, calibrations);
    for (let from = 0; from < run.timeMs.length; from += ROWS_A_TURN) {
      yield csvRows(run, stretches, from, Math.min(from + ROWS_A_TURN, run.timeMs.length));
      await new Promise(setImmediate);
    }
  }
}

function csvRows(run: SentRun, stretches: ReturnType<typeof interpretations>, from: number, to: number): string {
  let text = '';
  let at = 0;
  for (let i = from; i < to; i++) {
    const timeMs = run.timeMs[i]!;
    const asSent = run.value[i]!;
    while (at + 1 < stretches.length && stretches[at + 1]!.fromMs <= timeMs) at++;
    const map = stretches[at]?.map;
    const value = map ? toNineSignificantDigits(applyMap(map, asSent)) : '';
    text += `${new Date(timeMs).toISOString()},${value},${asSent},${run.unit}\r\n`;
  }
  return text;
}
