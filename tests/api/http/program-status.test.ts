import { describe, expect, it } from 'vitest';
import { createProgramStatus, type StatusFacts } from '../../../api/http/program-status.ts';

const WELL: StatusFacts = {
  version: '1.2.3',
  demo: false,
  startedMs: 0,
  nowMs: () => 1,
  storeHealth: async () => ({
    state: 'ok',
    message: undefined,
    sealing: 3,
    bytes: 10,
    freeBytes: undefined,
    bytesPerDay: undefined,
  }),
  commitFailure: () => undefined,
  brokerHealth: () => ({ state: 'listening', message: undefined, address: 'mqtt://127.0.0.1:1883' }),
  broker: () => ({ kind: 'embedded', host: '127.0.0.1', port: 1883 }),
  demoHistory: () => undefined,
  recordDamage: () => undefined,
  isStarted: () => true,
};
const statusOf = async (changes: Partial<StatusFacts>) =>
  (await createProgramStatus({ ...WELL, ...changes }).health()).status;

describe('health', () => {
  it('is ok when all is, with the blocks that wait', async () => {
    expect(await createProgramStatus(WELL).health()).toMatchObject({ status: 'ok', sealing: 3 });
  });
  it.each<[string, Partial<StatusFacts>]>([
    ['the broker is not there yet', { brokerHealth: () => undefined }],
    ['the start is not over', { isStarted: () => false }],
    ["the demo's history is being written", { demoHistory: () => ({ share: 0.4, failure: undefined }) }],
  ])('is starting while %s', async (_name, changes) => {
    expect(await statusOf(changes)).toBe('starting');
  });
  it('says what is wrong, all of it', async () => {
    const status = await statusOf({
      storeHealth: async () => ({
        state: 'failing',
        message: 'the disk is full',
        sealing: 0,
        bytes: 0,
        freeBytes: undefined,
        bytesPerDay: undefined,
      }),
      brokerHealth: () => ({ state: 'failing', message: 'it refuses us', address: 'mqtt://broker.example' }),
    });
    expect(status).toBe('storing fails: the disk is full; mqtt is failing: it refuses us');
    expect(await statusOf({ commitFailure: () => 'the disk is full' })).toBe('storing fails: the disk is full');
    expect(await statusOf({ demoHistory: () => ({ share: 0.4, failure: 'no room' }) })).toBe(
      "the demo's history fails: no room",
    );
  });
  it('asks the store once for many who ask at the same time', async () => {
    let asked = 0;
    const storeHealth = async () => {
      asked++;
      return WELL.storeHealth();
    };
    const status = createProgramStatus({ ...WELL, storeHealth });
    await Promise.all(Array.from({ length: 50 }, () => status.health()));
    expect(asked).toBe(1);
  });
});
