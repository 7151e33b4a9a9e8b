import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type ComposePorts, compose, type Listening } from '../../../api/compose.ts';
import type { ServeSettings } from '../../../api/settings.ts';
import { systemClock } from '../../../api/system-clock.ts';

/** The whole program in this process, on free ports and a data folder of its own. */
export interface RunningServer extends Listening {
  readonly folder: string;
  stop(): Promise<void>;
}

const SILENT = { info() {}, warn() {}, error() {} };

export function settingsFor(folder: string, changes: Partial<ServeSettings> = {}): ServeSettings {
  return {
    dataFolder: folder,
    httpPort: 0,
    httpHost: '127.0.0.1',
    mqttPort: 0,
    mqttHost: '127.0.0.1',
    tlsCertFile: undefined,
    tlsKeyFile: undefined,
    mqttTlsPort: undefined,
    broker: undefined,
    brokerUser: undefined,
    brokerPassword: undefined,
    brokerCaFile: undefined,
    logLevel: 'silent',
    demo: false,
    takeNextFreePort: false,
    ...changes,
  };
}

export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'mainsdiary-api-'));
  process.once('exit', () => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

export async function startServer(
  changes: Partial<ServeSettings> = {},
  ports: Partial<ComposePorts> = {},
): Promise<RunningServer> {
  const folder = changes.dataFolder ?? temporaryFolder();
  const program = compose(settingsFor(folder, changes), {
    clock: systemClock,
    log: SILENT,
    version: '0.0.0-test',
    ...ports,
  });
  const listening = await program.start();
  return { ...listening, folder, stop: program.stop };
}
