import { openSqliteStore } from '../../../collector/store/sqlite/open-store.ts';
import { HOUR_MS, START_MS, steadyPiece } from './store-under-test.ts';

// Stores messages of ten samples, as fast as it can, from the given number on; seals in between; prints the number of
// every message that was acknowledged. Every seventh message is sent twice, every fifth comes late.
const [folder, from] = [process.argv[2]!, Number(process.argv[3])];
const store = await openSqliteStore({ folder, clock: { nowMs: () => START_MS } });
for (let number = from; ; number++) {
  const message = steadyPiece(number * 600_000, 10);
  const late = number % 5 === 0 ? [steadyPiece(number * 600_000 - 7 * HOUR_MS + 300_000, 10)] : [];
  await store.store(number % 7 === 0 ? [message, message, ...late] : [message, ...late]);
  process.stdout.write(`${number}\n`);
  if (number % 3 === 0) await store.seal(START_MS + number * 600_000, 5);
  // Lets the line out.
  await new Promise((resolve) => setImmediate(resolve));
}
