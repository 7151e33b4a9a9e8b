import type { Clock } from '../../collector/model/clock.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Log, StoredNotice } from '../../collector/ports.ts';
import { type FindingCounts, sameCounts } from '../contract/finding-counts.ts';
import { type FindingsFrame, type FollowedSubject, LIVE_VERSION } from '../contract/live-frames.ts';
import type { FindingsService, MadeFindings } from '../work/findings-service.ts';
import { subjectKey } from './live-socket.ts';

/** Whether anything is due is looked for this often; it costs nothing where nobody follows. */
const LOOK_EVERY_MS = 1_000;
/** What is followed is answered no oftener than this, and by itself takes no more than a tenth of a core. */
const ANSWER_EVERY_MS = 5_000;
const TIMES_ITS_MAKING = 10;
/** Without a new finding, another wording is told no oftener than this. */
const TOLD_EVERY_MS = 60_000;
/** After a fault it is tried again this much later. */
const AFTER_FAULT_MS = 60_000;

interface Followed {
  readonly subject: FollowedSubject;
  /** Loggers that the last answer rested on; unknown before the first. */
  loggers: ReadonlySet<string> | undefined;
  /** Something may have changed since the last answer. */
  stale: boolean;
  dueMs: EpochMs;
  /** When another wording that was held back may be told. */
  retellMs: EpochMs | undefined;
  told: { readonly counts: FindingCounts; readonly evidence: string; readonly atMs: EpochMs } | undefined;
}

/** Tells open pages what can be said of what they show, as samples come in. Nothing is worked out while nobody looks. */
export interface FindingsFollower {
  stored(notice: StoredNotice): void;
  /** A setting changed that findings may rest on. */
  changed(): void;
  stop(): void;
}

export function followFindings(needs: {
  clock: Clock;
  log: Log;
  findings: FindingsService;
  followed: () => FollowedSubject[];
  send: (frame: FindingsFrame, to: FollowedSubject) => void;
}): FindingsFollower {
  const { clock, log, findings, send } = needs;
  let all = new Map<string, Followed>();
  let working = false;
  /** After an answer as much time is left to others as it took. */
  let restUntilMs = 0;

  function look(): void {
    const nowMs = clock.nowMs();
    all = new Map(
      needs.followed().map((subject) => {
        const key = subjectKey(subject);
        return [key, all.get(key) ?? newlyFollowed(subject, nowMs)];
      }),
    );
    if (working || nowMs < restUntilMs) return;
    const due = [...all.values()].filter(
      ({ stale, dueMs, retellMs }) => dueMs <= nowMs && (stale || (retellMs !== undefined && retellMs <= nowMs)),
    );
    const next = due.sort((a, b) => a.dueMs - b.dueMs)[0];
    if (!next) return;
    working = true;
    answer(next)
      .catch((error: unknown) => {
        next.stale = true;
        next.dueMs = clock.nowMs() + AFTER_FAULT_MS;
        log.warn({ err: error, of: next.subject }, 'what can be said by now could not be worked out');
      })
      .finally(() => {
        working = false;
      });
  }

  async function answer(one: Followed): Promise<void> {
    const startMs = clock.nowMs();
    one.stale = false;
    one.retellMs = undefined;
    const made = await newest(one.subject);
    const nowMs = clock.nowMs();
    const tookMs = nowMs - startMs;
    restUntilMs = nowMs + tookMs;
    one.dueMs = nowMs + Math.max(ANSWER_EVERY_MS, TIMES_ITS_MAKING * tookMs);
    one.loggers = new Set(made.flatMap(loggersOf));
    const [first] = made;
    if (first) tell(one, first, nowMs);
  }

  function tell(one: Followed, made: MadeFindings, nowMs: EpochMs): void {
    const { evidence, counts } = made.summary();
    const text = JSON.stringify(evidence);
    const { told } = one;
    if (told && sameCounts(told.counts, counts)) {
      if (told.evidence === text) return;
      if (nowMs < told.atMs + TOLD_EVERY_MS) {
        // It is told once its minute is over, also where no further sample comes.
        one.retellMs = told.atMs + TOLD_EVERY_MS;
        return;
      }
    }
    one.told = { counts, evidence: text, atMs: nowMs };
    const logger = made.sources.stretch.loggerId;
    send(
      { type: 'findings', version: LIVE_VERSION, of: one.subject, logger, until: made.toMs, evidence, counts },
      one.subject,
    );
  }

  async function newest(subject: FollowedSubject): Promise<readonly MadeFindings[]> {
    const open = { fromMs: undefined, toMs: undefined };
    return 'site' in subject
      ? findings.ofSite(subject.site, open, 'newest')
      : [await findings.ofLogger(subject.logger, open, 'newest')];
  }

  const stopTimer = clock.every(LOOK_EVERY_MS, look);
  return {
    stored({ loggerId }) {
      for (const one of all.values()) if (one.loggers?.has(loggerId) !== false) one.stale = true;
    },
    changed() {
      for (const one of all.values()) one.stale = true;
    },
    stop: stopTimer,
  };
}

function newlyFollowed(subject: FollowedSubject, nowMs: EpochMs): Followed {
  return { subject, loggers: undefined, stale: true, dueMs: nowMs, retellMs: undefined, told: undefined };
}

function loggersOf({ sources }: MadeFindings): string[] {
  const { stretch, flowLogger, pumpLogger, inletLogger } = sources;
  return [stretch.loggerId, flowLogger, pumpLogger, inletLogger].filter((id) => id !== undefined);
}
