import { createReadStream } from 'node:fs';
import { rm, stat, statfs } from 'node:fs/promises';
import { join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { RecordUpkeep } from '../../collector/store/record-check.ts';
import type { OwnerAccess } from '../access/owner-access.ts';
import { bearerTokenOf, sessionTokenOf } from '../access/session-cookie.ts';
import type { RecordCheckResponse } from '../contract/payloads.ts';
import type { RecordCheckService, RecordCheckState } from '../work/record-check-service.ts';
import { ANSWERED, type Handlers } from './handlers.ts';

/** What a copy must leave free on the disk: an hour of a large fleet's samples. */
const ROOM_LEFT_BYTES = 64 * 1024 * 1024;

export function recordHandlers(needs: {
  upkeep: RecordUpkeep;
  recordCheck: RecordCheckService;
  access: OwnerAccess;
  tls: boolean;
  /** On the disk of the record: where the copy lies until it is sent. */
  spoolFolder: string;
}): Pick<Handlers, 'backup' | 'recordCheck' | 'startRecordCheck'> {
  const { upkeep, recordCheck, access, tls, spoolFolder } = needs;
  let copying = false;

  async function refuseWithoutRoom(): Promise<void> {
    const { bavail, bsize } = await statfs(spoolFolder);
    const free = bavail * bsize;
    const wanted = upkeep.copyBytes() + ROOM_LEFT_BYTES;
    if (free >= wanted) return;
    throw new Problem(
      'backup_no_room',
      `The disk of the data folder has ${megabytes(free)} MB free; a copy would need ${megabytes(wanted)} MB`,
      'Free some space, or stop the program and copy the data folder itself to another disk',
    );
  }

  return {
    async backup({ request, response }) {
      // All keys' digests and every house's record in one file: never for whoever merely reaches the port.
      if (!access.isSignedIn(sessionTokenOf(request.headers.cookie, tls), bearerTokenOf(request.headers.authorization)))
        throw new Problem(
          'sign_in_needed',
          'The whole record is given only to its owner',
          'Use mainsdiary backup FILE on the machine itself, or sign in first',
        );
      if (copying) throw new Problem('busy', 'A backup is under way already', 'Ask again once it has ended');
      copying = true;
      const file = join(spoolFolder, 'backup.db');
      try {
        await refuseWithoutRoom();
        await rm(file, { force: true });
        // The copy is made in silence, however long it takes.
        request.socket.setTimeout(0);
        await upkeep.copyTo(file, () => undefined);
        response.setHeader('Cache-Control', 'no-store');
        response.setHeader('Content-Type', 'application/vnd.sqlite3');
        response.setHeader('Content-Disposition', 'attachment; filename="mainsdiary-backup.db"');
        response.setHeader('Content-Length', String((await stat(file)).size));
        await pipeline(createReadStream(file), response);
        return ANSWERED;
      } finally {
        copying = false;
        await rm(file, { force: true });
      }
    },
    recordCheck: () => checkResource(recordCheck.state()),
    startRecordCheck: () => checkResource(recordCheck.start()),
  };
}

function checkResource({ running, last, failure }: RecordCheckState): RecordCheckResponse {
  const time = (atMs: number | undefined) => (atMs === undefined ? null : formatRfc3339(atMs));
  return {
    state: running ? 'running' : failure !== undefined ? 'failed' : last ? 'done' : 'never',
    started: time(running?.startedMs ?? last?.startedMs),
    ended: running ? null : time(last?.endedMs),
    done: running?.done ?? last?.hours ?? 0,
    total: running?.total ?? last?.hours ?? 0,
    hours: last?.hours ?? 0,
    samples: last?.samples ?? 0,
    faultCount: last?.faultCount ?? 0,
    faults: (last?.faults ?? []).map(({ kind, loggerId, channel, hourMs, seen }) => ({
      kind,
      logger: loggerId ?? null,
      channel: channel ?? null,
      hour: time(hourMs),
      seen,
    })),
    failure: failure ?? null,
  };
}

function megabytes(bytes: number): string {
  return Math.ceil(bytes / 1e6).toLocaleString('en-GB');
}
