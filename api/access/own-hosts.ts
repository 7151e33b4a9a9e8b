import { isIP } from 'node:net';
import { hostname } from 'node:os';

/** Where the server listens, as far as a request's Host and Origin are concerned. */
export interface OwnHosts {
  /**
   * Whether a Host header names this server. A page elsewhere can make a browser ask us under a name of its own
   * (DNS rebinding); the Host then holds that name, which isn't ours.
   */
  isOurs(host: string | undefined): boolean;
  /** Whether an Origin header is our own page's, for a request with that (already accepted) Host. */
  isOwnOrigin(origin: string, host: string): boolean;
}

export function createOwnHosts(needs: {
  /** As set: an address or a name; `0.0.0.0` and `::` listen on every address. */
  readonly httpHost: string;
  /** The port is known only once the server listens. */
  readonly port: () => number;
  readonly tls: boolean;
}): OwnHosts {
  const configured = needs.httpHost.toLowerCase().replace(/^\[|\]$/g, '');
  const everywhere = configured === '0.0.0.0' || configured === '::';
  const machine = hostname().toLowerCase();
  const names = new Set(['localhost', configured]);
  // A name that only resolves on the local network can't be pointed elsewhere by a stranger's page.
  if (everywhere)
    for (const name of [machine, machine.split('.')[0]!, `${machine.split('.')[0]}.local`]) names.add(name);
  const defaultPort = needs.tls ? 443 : 80;

  const isOurs = (host: string | undefined): boolean => {
    const parsed = parseHost(host);
    if (!parsed || (parsed.port ?? defaultPort) !== needs.port()) return false;
    if (isLoopbackAddress(parsed.name) || names.has(parsed.name)) return true;
    // An address written as digits can't be rebound: whoever asks for it has reached the machine of that address.
    return everywhere && isIP(parsed.name) !== 0;
  };
  return {
    isOurs,
    isOwnOrigin: (origin, host) => origin.toLowerCase() === `${needs.tls ? 'https' : 'http'}://${host.toLowerCase()}`,
  };
}

function parseHost(host: string | undefined): { name: string; port: number | undefined } | undefined {
  const match = /^(?:\[([0-9a-f:.]{2,45})\]|([a-z0-9.-]{1,253}))(?::(\d{1,5}))?$/i.exec(host ?? '');
  if (!match) return undefined;
  return { name: (match[1] ?? match[2]!).toLowerCase(), port: match[3] === undefined ? undefined : Number(match[3]) };
}

function isLoopbackAddress(name: string): boolean {
  return name === '::1' || (isIP(name) === 4 && name.startsWith('127.'));
}
