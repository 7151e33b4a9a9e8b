import { openSqliteStore } from '../../../../collector/store/sqlite/open-store.ts';
import { describeStore } from '../conformance.ts';
import { scratchFolder, standingClock } from '../store-under-test.ts';

describeStore('the SQLite store', async () => {
  const { folder, remove } = scratchFolder();
  const clock = standingClock();
  let store = await openSqliteStore({ folder, clock });
  return {
    store,
    async reopen() {
      await store.close();
      store = await openSqliteStore({ folder, clock });
      return store;
    },
    async discard() {
      await store.close();
      remove();
    },
  };
});
