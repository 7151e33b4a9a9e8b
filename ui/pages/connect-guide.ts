import type { AboutResponse, LoggerResource } from '../../api/contract/payloads.ts';
import { copyLine } from '../parts/copy-button.ts';
import { el } from '../parts/element.ts';

/**
 * What a logger must be told to publish here, with a command line that sends one sample from any machine. `key`
 * undefined: it was shown before and isn't kept.
 */
export function connectGuide(logger: LoggerResource, about: AboutResponse, key: string | undefined): HTMLElement {
  const { broker } = about;
  const everywhere = broker.host === '0.0.0.0' || broker.host === '::';
  const host = everywhere ? location.hostname : broker.host;
  const loopback = broker.kind === 'embedded' && /^(127\.|::1|localhost)/.test(broker.host);
  const pressure = logger.channels.find((channel) => channel.channel === 'pressure') ?? logger.channels[0];
  const topic = `mainsdiary/${logger.id}/${pressure?.channel ?? 'pressure'}`;
  const example = pressure?.channel !== 'pressure' ? '1' : (EXAMPLE_VALUES[pressure.unit] ?? '2.4');
  const credentials = broker.kind === 'embedded' ? `-u ${logger.id} -P '${key ?? 'THE KEY'}' ` : '';
  const command = `mosquitto_pub -h ${host} -p ${broker.port} ${credentials}-q 1 -t ${topic} -m ${example}`;
  return el(
    'div',
    {},
    el(
      'dl',
      { class: 'figures' },
      ...pairs([
        ['Broker', `${host}, port ${broker.port}${broker.tlsPort === undefined ? '' : `, with TLS ${broker.tlsPort}`}`],
        ['User name', broker.kind === 'embedded' ? logger.id : 'as your broker asks'],
        ['Password', broker.kind === 'embedded' ? 'the key' : 'as your broker asks'],
        ['Topic', topic],
        ['Message', `a number such as ${example}, or {"time": "2026-05-04T06:31:07Z", "value": ${example}}`],
        ['Quality of service', '1: a sample is acknowledged only once it is stored'],
      ]),
    ),
    loopback &&
      el(
        'p',
        { class: 'quiet' },
        'The broker listens on this machine alone. To let a logger in your house reach it, start the program with --mqtt-host and this machine’s address.',
      ),
    el('p', {}, 'To try it from a terminal:'),
    copyLine(command, 'the command'),
  );
}

const EXAMPLE_VALUES: Record<string, string> = {
  bar: '2.4',
  mbar: '2400',
  hPa: '2400',
  kPa: '240',
  Pa: '240000',
  MPa: '0.24',
  psi: '34.8',
  mH2O: '24.5',
  V: '1.46',
  mV: '1460',
  mA: '7.84',
  counts: '246',
};

function pairs(entries: readonly (readonly [string, string])[]): HTMLElement[] {
  return entries.flatMap(([name, value]) => [el('dt', {}, name), el('dd', {}, value)]);
}
