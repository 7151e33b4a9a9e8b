import type { SeriesResponse } from './payloads.ts';

/*
 * A series as bytes: what `application/vnd.mainsdiary.columns` holds. Numbers are little-endian, so that a reader lays
 * typed arrays over the bytes instead of parsing text.
 *
 *   0   the four letters MDC1
 *   4   length of the header in bytes, unsigned, four bytes
 *   8   the header: JSON of everything but the columns, with `columns` in their place, ended by spaces
 *   …   the columns, each where its entry says, counted from the end of the header
 *
 * The header ends and each column begins at a multiple of eight. A column is named with its `type`, its `offset` in
 * bytes and its `length` in numbers; two columns may share their bytes. Further keys and columns may be added.
 */

export const COLUMNS_TYPE = 'application/vnd.mainsdiary.columns';

const MAGIC = 0x3143444d;
const ALIGNMENT = 8;
const HEADER_AT = 8;
/** A header is some 600 bytes; a longer one is not ours. */
const HEADER_LIMIT = 65_536;

const COLUMN_NAMES = ['time', 'min', 'max', 'mean', 'count'] as const;
type ColumnName = (typeof COLUMN_NAMES)[number];

const COLUMN_TYPES = { float64: Float64Array, float32: Float32Array, uint32: Uint32Array } as const;
type ColumnType = keyof typeof COLUMN_TYPES;
type TypedColumn = InstanceType<(typeof COLUMN_TYPES)[ColumnType]>;

export interface ColumnPlace {
  readonly name: string;
  readonly type: ColumnType;
  /** Bytes from the end of the header. */
  readonly offset: number;
  /** Numbers, not bytes. */
  readonly length: number;
}

/**
 * A series as bytes. Times are exact (float64), counts too (uint32); pressures and the like are float32, that is to seven
 * digits: less than a microbar at ten bar. A column with a value that float32 has no room for stays float64.
 */
export function columnBytes(series: SeriesResponse): Uint8Array<ArrayBuffer> {
  const { time, min, max, mean, count, ...about } = series;
  const written = new Map<readonly number[], { place: Omit<ColumnPlace, 'name'>; numbers: TypedColumn }>();
  let bytes = 0;
  const places = Object.entries({ time, min, max, mean, count } satisfies Record<ColumnName, unknown>).map(
    ([name, column]) => {
      let entry = written.get(column);
      if (!entry) {
        const type = typeFor(name as ColumnName, column);
        const numbers = COLUMN_TYPES[type].from(column);
        entry = { place: { type, offset: bytes, length: column.length }, numbers };
        written.set(column, entry);
        bytes += aligned(numbers.byteLength);
      }
      return { name, ...entry.place };
    },
  );
  const text = new TextEncoder().encode(JSON.stringify({ ...about, columns: places }));
  const headerBytes = aligned(HEADER_AT + text.length) - HEADER_AT;
  const out = new Uint8Array(HEADER_AT + headerBytes + bytes);
  const view = new DataView(out.buffer);
  view.setUint32(0, MAGIC, true);
  view.setUint32(4, headerBytes, true);
  out.fill(0x20, HEADER_AT, HEADER_AT + headerBytes);
  out.set(text, HEADER_AT);
  for (const { place, numbers } of written.values()) putNumbers(out, HEADER_AT + headerBytes + place.offset, numbers);
  return out;
}

/** Reads what `columnBytes` wrote. Throws a RangeError where the bytes aren't of this form. */
export function readColumnBytes(buffer: ArrayBuffer): SeriesResponse {
  if (buffer.byteLength < HEADER_AT) throw new RangeError('too short for columns');
  const view = new DataView(buffer);
  const headerBytes = view.getUint32(4, true);
  if (view.getUint32(0, true) !== MAGIC || headerBytes > HEADER_LIMIT || HEADER_AT + headerBytes > buffer.byteLength)
    throw new RangeError('not columns of this form');
  const text = new TextDecoder().decode(new Uint8Array(buffer, HEADER_AT, headerBytes));
  const header = JSON.parse(text) as { readonly columns?: unknown } | null;
  const places = Array.isArray(header?.columns) ? (header.columns as (Partial<ColumnPlace> | null)[]) : [];
  const { columns: _, ...about } = header ?? {};
  const read = Object.fromEntries(
    COLUMN_NAMES.map((name) => {
      const place = places.find((entry) => entry?.name === name);
      if (!isPlace(place)) throw new RangeError(`no column "${name}" that can be read`);
      return [name, takeNumbers(view, HEADER_AT + headerBytes + place.offset, place)];
    }),
  );
  return { ...about, ...read } as unknown as SeriesResponse;
}

function isPlace(place: Partial<ColumnPlace> | null | undefined): place is ColumnPlace {
  const isCount = (value: unknown) => Number.isSafeInteger(value) && (value as number) >= 0;
  return (
    typeof place?.type === 'string' &&
    Object.hasOwn(COLUMN_TYPES, place.type) &&
    isCount(place.offset) &&
    isCount(place.length)
  );
}

function typeFor(name: ColumnName, column: readonly number[]): ColumnType {
  if (name === 'time') return 'float64';
  if (name === 'count') return 'uint32';
  return column.every((value) => Number.isFinite(Math.fround(value))) ? 'float32' : 'float64';
}

function aligned(bytes: number): number {
  return Math.ceil(bytes / ALIGNMENT) * ALIGNMENT;
}

/** Typed arrays have the machine's own order of bytes; nearly all machines are little-endian and copy at once. */
const LITTLE_ENDIAN = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

function putNumbers(out: Uint8Array, at: number, numbers: TypedColumn): void {
  const bytes = new Uint8Array(numbers.buffer, numbers.byteOffset, numbers.byteLength);
  out.set(LITTLE_ENDIAN ? bytes : turned(bytes, numbers.BYTES_PER_ELEMENT), at);
}

function takeNumbers(view: DataView, at: number, { type, length }: ColumnPlace): number[] {
  const { BYTES_PER_ELEMENT: width } = COLUMN_TYPES[type];
  const bytes = view.buffer.slice(at, at + length * width);
  if (bytes.byteLength !== length * width) throw new RangeError('the columns end too early');
  const ours = LITTLE_ENDIAN ? bytes : turned(new Uint8Array(bytes), width).buffer;
  return Array.from(new COLUMN_TYPES[type](ours as ArrayBuffer));
}

function turned(bytes: Uint8Array, width: number): Uint8Array {
  return bytes.map((_, index) => bytes[index - (index % width) + width - 1 - (index % width)]!);
}
