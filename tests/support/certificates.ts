import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Certificate {
  readonly certFile: string;
  readonly keyFile: string;
}

/** An authority of the test's own, made by openssl, and the certificates that it issues. */
export interface Authority {
  readonly certFile: string;
  readonly cert: string;
  /** For `localhost` from now on, unless told otherwise; negative days: it has expired already. */
  issue(options?: { name?: string; days?: number }): Certificate;
  remove(): void;
}

export function makeAuthority(): Authority {
  const folder = mkdtempSync(join(tmpdir(), 'authority-'));
  const file = (name: string): string => join(folder, name);
  const openssl = (...args: string[]): void => void execFileSync('openssl', args, { stdio: 'ignore' });
  const newKey = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes'];
  const own = { key: file('authority-key.pem'), cert: file('authority.pem') };
  openssl(
    'req',
    '-x509',
    ...newKey,
    '-days',
    '2',
    '-subj',
    '/CN=sample authority',
    '-keyout',
    own.key,
    '-out',
    own.cert,
  );
  let issued = 0;
  return {
    certFile: own.cert,
    cert: readFileSync(own.cert, 'utf8'),
    issue({ name = 'localhost', days = 2 } = {}) {
      issued += 1;
      const [keyFile, asked, certFile, names] = ['key', 'csr', 'cert', 'ext'].map((end) =>
        file(`${issued}.${end}`),
      ) as [string, string, string, string];
      execFileSync('sh', ['-c', 'printf "subjectAltName=DNS:%s" "$1" > "$2"', 'sh', name, names]);
      openssl('req', ...newKey, '-subj', `/CN=${name}`, '-keyout', keyFile, '-out', asked);
      const signed = ['-CA', own.cert, '-CAkey', own.key, '-CAcreateserial', '-extfile', names];
      openssl('x509', '-req', '-in', asked, '-days', String(days), ...signed, '-out', certFile);
      return { certFile, keyFile };
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}
