import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Log } from '../../collector/ports.ts';
import type { Settings } from '../../collector/store/port.ts';
import type { RecordCheck, RecordUpkeep } from '../../collector/store/record-check.ts';

/** Under this name the last check that ended is kept, so that what it found is told after a restart too. */
const LAST_CHECK_STATE = 'record/last-check';
/** Faults kept and shown one by one. */
const FAULTS_SHOWN = 100;

/** A check that ended. */
export interface EndedCheck extends RecordCheck {
  readonly startedMs: EpochMs;
  readonly endedMs: EpochMs;
}

export interface RecordCheckState {
  /** The one under way. */
  readonly running: { readonly startedMs: EpochMs; readonly done: number; readonly total: number } | undefined;
  readonly last: EndedCheck | undefined;
  /** Why the newest could not be done; undefined where it was, or is under way. */
  readonly failure: string | undefined;
}

export interface RecordCheckService {
  /** Starts a check unless one is under way. */
  start(): RecordCheckState;
  state(): RecordCheckState;
  /** What the last check found, in a sentence for health; undefined where it found nothing or there was none. */
  damage(): string | undefined;
}

/** Full checks of the record, one at a time. */
export async function createRecordCheckService(needs: {
  settings: Pick<Settings, 'state' | 'putState'>;
  upkeep: Pick<RecordUpkeep, 'check'>;
  nowMs: () => EpochMs;
  log: Log;
}): Promise<RecordCheckService> {
  const { settings, upkeep, nowMs, log } = needs;
  let last = readLast(await settings.state(LAST_CHECK_STATE));
  let running: RecordCheckState['running'];
  let failure: string | undefined;

  async function run(startedMs: EpochMs): Promise<void> {
    try {
      const check = await upkeep.check(({ done, total }) => {
        running = { startedMs, done, total };
      });
      last = { ...check, faults: check.faults.slice(0, FAULTS_SHOWN), startedMs, endedMs: nowMs() };
      if (check.faultCount > 0) log.error({ faults: check.faultCount }, damageOf(last) ?? 'the record is damaged');
    } catch (error) {
      failure = error instanceof Error ? error.message : String(error);
      log.warn({ err: error }, 'the record could not be checked');
    } finally {
      running = undefined;
    }
    // A store that can't be written is told elsewhere; the finding itself stands.
    if (failure === undefined) await settings.putState(LAST_CHECK_STATE, JSON.stringify(last)).catch(() => undefined);
  }

  const state = (): RecordCheckState => ({ running, last, failure });
  return {
    state,
    start() {
      if (!running) {
        failure = undefined;
        const startedMs = nowMs();
        running = { startedMs, done: 0, total: 0 };
        void run(startedMs);
      }
      return state();
    },
    damage: () => damageOf(last),
  };
}

function damageOf(last: EndedCheck | undefined): string | undefined {
  const [first] = last?.faults ?? [];
  if (!last || !first) return undefined;
  const hour = first.hourMs === undefined ? undefined : formatRfc3339(first.hourMs);
  const place = [first.loggerId, first.channel, hour].filter((part) => part !== undefined).join(' ');
  const count = last.faultCount === 1 ? '1 fault' : `${last.faultCount} faults`;
  return (
    `the check of ${formatRfc3339(last.endedMs)} found ${count} in the record, the first${place ? ` at ${place}` : ''}: ` +
    `${first.seen}. Keep a copy of the data folder; "mainsdiary check" lists them, "mainsdiary restore" puts a backup back`
  );
}

function readLast(text: string | undefined): EndedCheck | undefined {
  if (text === undefined) return undefined;
  try {
    return JSON.parse(text) as EndedCheck;
  } catch {
    return undefined;
  }
}
