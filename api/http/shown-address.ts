import type { AboutResponse } from '../contract/payloads.ts';

/** A host as it stands in a URL: IPv6 in brackets. */
export function hostInUrl(host: string): string {
  return host.includes(':') && !host.startsWith('[') ? `[${host}]` : host;
}

/** Where a server that listens on `host` is reached from this machine. */
export function hostFromHere(host: string): string {
  return hostInUrl(host === '0.0.0.0' ? '127.0.0.1' : host === '::' ? '::1' : host);
}

/** Host and port of an outside broker's URL, with the ports that its schemes imply. */
export function outsideBroker(url: string): Pick<AboutResponse['broker'], 'kind' | 'host' | 'port'> {
  const { hostname, port, protocol } = new URL(url);
  return { kind: 'outside', host: hostname, port: port === '' ? (protocol === 'mqtts:' ? 8883 : 1883) : Number(port) };
}
