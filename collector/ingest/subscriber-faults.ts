import type { BrokerFault } from '../ports.ts';

/** CONNACK codes that mean "not this version": MQTT 3.1.1 table 3.1 and MQTT 5 table 3-1. */
const VERSION_REFUSED = [1, 0x84];
/** Wrong user name or password, not authorised, in both versions. */
const NOT_WELCOME = [4, 5, 0x86, 0x87];
const SERVER_BUSY = [3, 0x88, 0x89];
/** DISCONNECT's reason where another connection has taken our client id: MQTT 5 table 3-10. */
export const SESSION_TAKEN_OVER = 0x8e;

/** What Node reports where a certificate doesn't convince (OpenSSL's names and Node's own). */
const CERTIFICATE =
  /CERT|SELF_SIGNED|UNABLE_TO_(GET|VERIFY)|ERR_TLS_CERT_ALTNAME|HOSTNAME_MISMATCH|certificate|alt ?name/i;
const UNKNOWN_AUTHORITY = /SELF_SIGNED|UNABLE_TO_(GET|VERIFY)|CERT_UNTRUSTED|unable to (get|verify)|self.signed/i;
const OTHER_NAME = /ALTNAME|HOSTNAME_MISMATCH|alt ?name/i;

/** What is wrong, and a sentence that says what to do. */
export interface ToldFault {
  readonly fault: BrokerFault;
  readonly message: string;
}

function codeOf(error: unknown): string | number | undefined {
  return (error as { code?: string | number }).code;
}

export function isVersionRefused(error: unknown): boolean {
  return VERSION_REFUSED.includes(Number(codeOf(error)));
}

/** A connection's failure as a sentence that says what to do. */
export function brokerFault(error: Error, url: string): ToldFault {
  const { host, hostname, protocol } = new URL(url);
  const code = codeOf(error);
  if (typeof code === 'number' || /^\d+$/.test(String(code))) return refusedConnect(Number(code), error.message);
  const text = String(code ?? '');
  if (CERTIFICATE.test(text) || CERTIFICATE.test(error.message)) {
    return { fault: 'certificate', message: certificateWords(hostname, text || error.message) };
  }
  switch (text) {
    case 'ECONNREFUSED':
      return { fault: 'away', message: `nothing listens at ${host}; check host and port and that the broker runs` };
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return {
        fault: 'away',
        message: `the name ${hostname} isn't known; check the spelling and this machine's network`,
      };
    case 'EHOSTUNREACH':
    case 'ENETUNREACH':
    case 'ETIMEDOUT':
      return { fault: 'away', message: `${hostname} can't be reached (${text}); check the network between` };
    case 'EPROTO':
      return {
        fault: 'no_mqtt',
        message: `the broker doesn't speak TLS at that port; ${protocol === 'mqtts:' ? 'use mqtt:// or its TLS port' : 'check the port'}`,
      };
    default:
      return /connack timeout/i.test(error.message)
        ? {
            fault: 'no_mqtt',
            message:
              'something listens there but does not answer as an MQTT broker does; check the port, and whether it wants mqtts://',
          }
        : { fault: 'lost', message: `the connection failed: ${text || error.message}` };
  }
}

function refusedConnect(code: number, said: string): ToldFault {
  if (NOT_WELCOME.includes(code)) {
    return {
      fault: 'not_welcome',
      message: 'the broker refuses the user name or the password (--broker-user, --broker-password-file)',
    };
  }
  if (SERVER_BUSY.includes(code)) {
    return { fault: 'busy', message: 'the broker is there and says that it is busy; it is tried again' };
  }
  return { fault: 'refused', message: `the broker refuses the connection: ${said}` };
}

function certificateWords(hostname: string, seen: string): string {
  if (/EXPIRED|has expired/i.test(seen)) {
    return `the broker's certificate has expired (${seen}); renew it at the broker, and check this machine's date`;
  }
  if (/NOT_YET_VALID|not yet valid/i.test(seen)) {
    return `the broker's certificate isn't valid yet (${seen}); check the date of this machine and of the certificate`;
  }
  if (OTHER_NAME.test(seen)) {
    return `the broker's certificate is for another name than ${hostname} (${seen}); use the name that it was made for`;
  }
  if (UNKNOWN_AUTHORITY.test(seen)) {
    return `the broker's certificate comes from an authority that isn't known here (${seen}); name that authority's certificate with --broker-ca`;
  }
  return `the broker's certificate isn't trusted (${seen}); check its name, its date and who issued it`;
}

/** Two that call themselves the same push each other out for ever. */
export function pushedOutWords(clientId: string): ToldFault {
  return {
    fault: 'pushed_out',
    message: `the broker ends the connection as soon as it is made: something else is connected under this installation's client id ${clientId}, most likely a second program on a copy of this data folder; stop it, or start one of them on a folder of its own`,
  };
}

export function notAllowedWords(topics: string, said: string): ToldFault {
  return {
    fault: 'not_allowed',
    message: `the subscription to ${topics} was refused (${said}); let the broker's user read these topics`,
  };
}

/** The broker had forgotten us, and with us what waited. */
export function sessionLostWords(when: string): string {
  return `on ${when} the broker no longer knew this program, so messages that waited there for it may be lost; with mosquitto set persistence true, autosave_on_changes true, autosave_interval 1 and max_queued_messages 0`;
}
