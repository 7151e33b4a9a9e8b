import { describe, expect, it } from 'vitest';
import { skipWithoutMosquitto } from '../support/mosquitto.ts';
import { type KillAccount, killBroker, killLine, killProgram } from './kills.ts';

/** KILLS=200 for many; `kill-many.ts` does the same without the test runner. */
const KILLS = Number(process.env['KILLS'] ?? 6);
const BROKER_KILLS = Math.max(3, Math.round(KILLS / 10));
const SEED = Number(process.env['SEED'] ?? 20260504);
const LIMIT_MS = 120_000 + KILLS * 20_000;
const withoutMosquitto = skipWithoutMosquitto();

function nothingLost(what: string, account: KillAccount): void {
  const line = killLine(what, account);
  console.log(line);
  expect(account, line).toMatchObject({ lost: 0, doubled: 0, wrong: [] });
  expect(account.acknowledged).toBeGreaterThanOrEqual(account.kills * 100);
}

describe(`kill -9 under load loses and doubles nothing that was acknowledged (seed ${SEED})`, () => {
  it(`${KILLS} times the whole program, with its own broker`, { timeout: LIMIT_MS }, async () => {
    nothingLost('the program with its own broker', await killProgram('embedded', { kills: KILLS, seed: SEED }));
  });

  it.skipIf(withoutMosquitto)(`${KILLS} times the whole program, behind mosquitto`, { timeout: LIMIT_MS }, async () => {
    nothingLost('the program behind mosquitto', await killProgram('outside', { kills: KILLS, seed: SEED }));
  });

  it.skipIf(withoutMosquitto)(`${BROKER_KILLS} times the outside broker`, { timeout: LIMIT_MS }, async () => {
    const account = await killBroker({ kills: BROKER_KILLS, seed: SEED });
    console.log(killLine('mosquitto with the settings of the README', account));
    // What the broker itself forgot in spite of its settings isn't ours to keep; all that reached us is there.
    expect(account.lost - account.forgottenByBroker).toBe(0);
    expect(account.doubled).toBe(0);
  });
});
