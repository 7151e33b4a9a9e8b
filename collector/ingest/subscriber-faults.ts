/** CONNACK codes that mean "not this version": MQTT 3.1.1 table 3.1 and MQTT 5 table 3-1. */
const VERSION_REFUSED = [1, 0x84];
/** Wrong user name or password, not authorised, in both versions. */
const NOT_WELCOME = [4, 5, 0x86, 0x87];
const SERVER_BUSY = [3, 0x88, 0x89];

/** What Node reports where a certificate doesn't convince (OpenSSL's names and Node's own). */
const CERTIFICATE =
  /CERT|SELF_SIGNED|UNABLE_TO_(GET|VERIFY)|ERR_TLS_CERT_ALTNAME|HOSTNAME_MISMATCH|certificate|alt ?name/i;

function codeOf(error: unknown): string | number | undefined {
  return (error as { code?: string | number }).code;
}

export function isVersionRefused(error: unknown): boolean {
  return VERSION_REFUSED.includes(Number(codeOf(error)));
}

/** A connection's failure as a sentence that says what to do. */
export function brokerFault(error: Error, url: string): string {
  const { hostname, protocol } = new URL(url);
  const code = codeOf(error);
  if (typeof code === 'number' || /^\d+$/.test(String(code))) {
    const number = Number(code);
    if (NOT_WELCOME.includes(number))
      return 'the broker refuses the user name or the password (--broker-user, --broker-password-file)';
    if (SERVER_BUSY.includes(number)) return 'the broker is there and says that it is busy; it is tried again';
    return `the broker refuses the connection: ${error.message}`;
  }
  const text = String(code ?? '');
  if (CERTIFICATE.test(text) || CERTIFICATE.test(error.message)) {
    return `the broker's certificate isn't trusted (${text || error.message}); check its name, its date and who issued it`;
  }
  switch (text) {
    case 'ECONNREFUSED':
      return `nothing listens at ${hostname}; check host and port and that the broker runs`;
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return `the name ${hostname} isn't known; check the spelling and this machine's network`;
    case 'EHOSTUNREACH':
    case 'ENETUNREACH':
    case 'ETIMEDOUT':
      return `${hostname} can't be reached (${text}); check the network between`;
    case 'EPROTO':
      return `the broker doesn't speak TLS at that port; ${protocol === 'mqtts:' ? 'use mqtt:// or its TLS port' : 'check the port'}`;
    default:
      return /connack timeout/i.test(error.message)
        ? 'something listens there but does not answer as an MQTT broker does; check the port, and whether it wants mqtts://'
        : `the connection failed: ${text || error.message}`;
  }
}
