/** Powers of ten that a double holds exactly; with a mantissa below 2⁵³ one division then rounds correctly (IEEE 754). */
const EXACT_POWERS = Array.from({ length: 23 }, (_, exponent) => 10 ** exponent);
const EXACT_DIGITS = 15;
const MINUS = 0x2d;
const PLUS = 0x2b;
const DOT = 0x2e;
const NUMBER_TEXT = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$/;

/**
 * The decimal number in bytes[from, to), or undefined where it is none. Scanned by hand, since a text per cell would
 * take most of the time of reading a file; whatever isn't plain digits with a point goes the long way.
 */
export function scanNumber(bytes: Uint8Array, from: number, to: number): number | undefined {
  let at = from;
  const negative = bytes[at] === MINUS;
  if (negative || bytes[at] === PLUS) at++;
  let mantissa = 0;
  let digits = 0;
  let decimals = 0;
  let pointSeen = false;
  for (; at < to; at++) {
    const byte = bytes[at]!;
    if (byte >= 0x30 && byte <= 0x39) {
      mantissa = mantissa * 10 + (byte - 0x30);
      digits++;
      if (pointSeen) decimals++;
    } else if (byte === DOT && !pointSeen) pointSeen = true;
    else return scanSlowly(bytes, from, to);
  }
  if (digits === 0 || digits > EXACT_DIGITS) return scanSlowly(bytes, from, to);
  const value = mantissa / EXACT_POWERS[decimals]!;
  return negative ? -value : value;
}

function scanSlowly(bytes: Uint8Array, from: number, to: number): number | undefined {
  if (to - from > 64) return undefined;
  const text = Buffer.from(bytes.buffer, bytes.byteOffset + from, to - from).toString('latin1');
  if (!NUMBER_TEXT.test(text)) return undefined;
  const value = Number(text);
  return Number.isFinite(value) ? value : undefined;
}
