import { describe, expect, it } from 'vitest';
import { programFaults } from '../../ui/parts/program-faults.ts';

const well = {
  store: { state: 'ok' as const },
  broker: { kind: 'outside' as const, host: '127.0.0.1', port: 1883, state: 'connected' as const },
  disk: { state: 'ok' as const, freeBytes: null, bytesPerDay: null, daysLeft: null },
};

describe('what is told at the head of every page', () => {
  it('is nothing while all is well', () => {
    expect(programFaults(well)).toEqual([]);
  });

  it('names a moment as people do, not as programs do', () => {
    const note = 'on 2026-05-04T06:05:00.847Z the broker no longer knew this program';
    expect(programFaults({ ...well, broker: { ...well.broker, note } })).toEqual([
      'On 4 May 2026, 06:05 UTC the broker no longer knew this program.',
    ]);
  });

  it('tells a full disk once, with what is lost by it', () => {
    const low = { ...well.disk, state: 'low' as const, message: 'the disk has 0 MB free' };
    const store = { state: 'failing' as const, message: 'The disk is full.' };
    expect(programFaults({ ...well, store, disk: low })).toEqual([
      'Samples can’t be stored just now. The disk is full.',
    ]);
  });
});
