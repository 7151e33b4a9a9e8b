import { parseRfc3339 } from '../../collector/model/instant.ts';

/**
 * A reader of RFC 3339 times in bytes. `YYYY-MM-DDTHH:MM:SS[.fff…]Z` is scanned by hand with the day kept from the row
 * before; other forms (an offset, a leap second, lower case) go through parseRfc3339, which has the last word.
 */
export function createTimeScan(): (bytes: Uint8Array, from: number, to: number) => number | undefined {
  let dayStamp = -1;
  let dayMs = 0;

  return (bytes, from, to) => {
    const length = to - from;
    const plain =
      length >= 20 && length <= 40 && bytes[to - 1] === 0x5a && bytes[from + 10] === 0x54 && separatorsFit(bytes, from);
    if (!plain) return slow(bytes, from, to);
    const year = two(bytes, from) * 100 + two(bytes, from + 2);
    const stamp = (year * 100 + two(bytes, from + 5)) * 100 + two(bytes, from + 8);
    const hour = two(bytes, from + 11);
    const minute = two(bytes, from + 14);
    const second = two(bytes, from + 17);
    let fractionMs = 0;
    let digits = 0;
    if (length > 20) {
      if (bytes[from + 19] !== 0x2e || length === 21) return slow(bytes, from, to);
      for (let at = from + 20; at < to - 1; at++) {
        const digit = bytes[at]! - 0x30;
        if (digit < 0 || digit > 9) return slow(bytes, from, to);
        if (digits < 3) fractionMs = fractionMs * 10 + digit;
        digits++;
      }
      while (digits < 3) {
        fractionMs *= 10;
        digits++;
      }
    }
    if (!(hour <= 23 && minute <= 59 && second <= 59)) return slow(bytes, from, to);
    if (stamp !== dayStamp) {
      const found = Number.isNaN(stamp) ? undefined : slow(bytes, from, to);
      if (found === undefined) return undefined;
      dayStamp = stamp;
      dayMs = Math.floor(found / 86_400_000) * 86_400_000;
    }
    return dayMs + ((hour * 60 + minute) * 60 + second) * 1000 + fractionMs;
  };
}

function separatorsFit(bytes: Uint8Array, from: number): boolean {
  return bytes[from + 4] === 0x2d && bytes[from + 7] === 0x2d && bytes[from + 13] === 0x3a && bytes[from + 16] === 0x3a;
}

/** Two digits; NaN where they are none. */
function two(bytes: Uint8Array, at: number): number {
  const high = bytes[at]! - 0x30;
  const low = bytes[at + 1]! - 0x30;
  return high >= 0 && high <= 9 && low >= 0 && low <= 9 ? high * 10 + low : Number.NaN;
}

function slow(bytes: Uint8Array, from: number, to: number): number | undefined {
  if (to - from > 64) return undefined;
  return parseRfc3339(Buffer.from(bytes.buffer, bytes.byteOffset + from, to - from).toString('latin1'));
}
