import { killBroker, killLine, killProgram } from './kills.ts';

/*
 * `node dist/tests/end-to-end/kill-many.js [embedded|outside|broker]`: kill -9 many times under load, with KILLS (200;
 * of the broker 20) and SEED from the environment. Ends with 1 where the program lost or doubled anything.
 */

const which = process.argv[2];
const seed = Number(process.env['SEED'] ?? 20260504);
const kills = (usual: number): number => Number(process.env['KILLS'] ?? usual);
const onKill = (kill: number): void => {
  if (kill % 20 === 0) process.stderr.write(`${kill} kills …\n`);
};

const RUNS = [
  ['embedded', 'the program with its own broker', () => killProgram('embedded', { kills: kills(200), seed, onKill })],
  ['outside', 'the program behind mosquitto', () => killProgram('outside', { kills: kills(200), seed, onKill })],
  ['broker', 'mosquitto with the settings of the README', () => killBroker({ kills: kills(20), seed, onKill })],
] as const;

for (const [name, what, run] of RUNS) {
  if (which !== undefined && which !== name) continue;
  const account = await run();
  console.log(killLine(what, account));
  if (account.lost > account.forgottenByBroker || account.doubled > 0 || account.wrong.length > 0) process.exitCode = 1;
}
