import type { StoreHealth } from '../../collector/store/port.ts';

/** Days ahead at which the disk is told as running full: time to buy another, or to set how long samples are kept. */
const DAYS_AHEAD = 30;
/** Told whatever the rate: sealing, a copy for a backup and the system itself need room too. */
const LOW_FREE_BYTES = 256 * 1024 * 1024;

/** How long the disk of the data folder lasts at the rate of the last days. */
export interface DiskLife {
  readonly state: 'ok' | 'low';
  /** What is wrong and what to do, where it is low. */
  readonly message?: string;
  /** null: the disk doesn't say. */
  readonly freeBytes: number | null;
  /** null: before the first whole day. */
  readonly bytesPerDay: number | null;
  readonly daysLeft: number | null;
}

export function diskLife(store: Pick<StoreHealth, 'freeBytes' | 'bytesPerDay'>): DiskLife {
  const freeBytes = store.freeBytes ?? null;
  const bytesPerDay = store.bytesPerDay ?? null;
  const growing = freeBytes !== null && bytesPerDay !== null && bytesPerDay > 0;
  const daysLeft = growing ? Math.floor(freeBytes / bytesPerDay) : null;
  const low = (freeBytes !== null && freeBytes < LOW_FREE_BYTES) || (daysLeft !== null && daysLeft < DAYS_AHEAD);
  if (!low) return { state: 'ok', freeBytes, bytesPerDay, daysLeft };
  const days = daysLeft === 0 ? 'less than a day' : daysLeft === 1 ? 'a day' : `${daysLeft} days`;
  // A long life would read as if there were nothing to do; what else writes to the disk may fill it any day.
  const lasts =
    daysLeft === null || daysLeft >= DAYS_AHEAD
      ? ', too little to be safe from what else is written there'
      : `, which lasts ${days} at the present rate`;
  const free = Math.floor((freeBytes ?? 0) / 1e6).toLocaleString('en-GB');
  return {
    state: 'low',
    message: `the disk of the data folder has ${free} MB free${lasts}: free some space, take a larger disk, or set at a site for how many days single samples are kept`,
    freeBytes,
    bytesPerDay,
    daysLeft,
  };
}
