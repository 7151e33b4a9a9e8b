/** Writes bytes, variable-length integers (7 bits a byte, lowest first) and short texts into a growing array. */
export class ByteWriter {
  #bytes: Uint8Array;
  #length = 0;

  constructor(capacity = 256) {
    this.#bytes = new Uint8Array(capacity);
  }

  get length(): number {
    return this.#length;
  }

  byte(value: number): void {
    this.#reserve(1);
    this.#bytes[this.#length++] = value;
  }

  /** `value`: a whole number from 0 to 2^53 − 1. */
  varint(value: number): void {
    this.#reserve(8);
    const bytes = this.#bytes;
    let rest = value;
    // Bit operators work on 32 bits only; larger numbers are divided.
    while (rest > 0x7fffffff) {
      bytes[this.#length++] = (rest % 128) | 128;
      rest = Math.floor(rest / 128);
    }
    while (rest > 127) {
      bytes[this.#length++] = (rest & 127) | 128;
      rest >>>= 7;
    }
    bytes[this.#length++] = rest;
  }

  /** A whole number of either sign, |value| < 2^52, with the sign in the lowest bit (zig-zag). */
  signedVarint(value: number): void {
    this.varint(value < 0 ? -2 * value - 1 : 2 * value);
  }

  /** At most 255 bytes of UTF-8, length first. */
  shortText(text: string): void {
    const bytes = Buffer.from(text, 'utf8');
    if (bytes.length > 255) throw new RangeError(`a text of ${bytes.length} bytes, at most 255 fit`);
    this.byte(bytes.length);
    this.raw(bytes);
  }

  raw(bytes: Uint8Array): void {
    this.#reserve(bytes.length);
    this.#bytes.set(bytes, this.#length);
    this.#length += bytes.length;
  }

  /** What was written, as a view that later writing may change. */
  view(): Uint8Array {
    return this.#bytes.subarray(0, this.#length);
  }

  #reserve(count: number): void {
    const needed = this.#length + count;
    if (needed <= this.#bytes.length) return;
    const grown = new Uint8Array(Math.max(needed, this.#bytes.length * 2));
    grown.set(this.view());
    this.#bytes = grown;
  }
}

/** Reads what `ByteWriter` wrote; throws a RangeError where the bytes end too early. */
export class ByteReader {
  readonly #bytes: Uint8Array;
  #at = 0;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
  }

  byte(): number {
    const value = this.#bytes[this.#at++];
    if (value === undefined) throw new RangeError('stored bytes end too early');
    return value;
  }

  varint(): number {
    let value = this.byte();
    if (value < 128) return value;
    value &= 127;
    let scale = 128;
    for (;;) {
      const next = this.byte();
      value += (next & 127) * scale;
      if (next < 128) return value;
      scale *= 128;
    }
  }

  signedVarint(): number {
    const folded = this.varint();
    // The plain arithmetic below is exact up to 2^53; bit operators are faster and do for nearly all.
    if (folded <= 0x7fffffff) return (folded >>> 1) ^ -(folded & 1);
    return folded % 2 === 0 ? folded / 2 : -(folded + 1) / 2;
  }

  shortText(): string {
    return Buffer.from(this.raw(this.byte())).toString('utf8');
  }

  raw(count: number): Uint8Array {
    const end = this.#at + count;
    if (end > this.#bytes.length) throw new RangeError('stored bytes end too early');
    const part = this.#bytes.subarray(this.#at, end);
    this.#at = end;
    return part;
  }
}
