import { quoted, type RefusedEntry } from './payload-entry.ts';

/*
 * SenML JSON, RFC 8428 (August 2018): base values and relative times resolved by sections 4.1 to 4.6. Pure, and knows
 * nothing of channels: what a name or a unit means to us is decided in senml-entries.ts.
 */

/** Section 4.5.3: a resolved time below 2^28 s is relative to now. */
export const SENML_RELATIVE_BELOW_S = 2 ** 28;
/** Section 4.4: the version this reader knows; a higher one must not be used. */
export const SENML_VERSION = 10;

const BASE_LABELS = ['bn', 'bt', 'bu', 'bv', 'bs', 'bver'] as const;
const REGULAR_LABELS = ['n', 'u', 'v', 'vs', 'vb', 'vd', 's', 't', 'ut'] as const;
const VALUE_LABELS = ['v', 'vs', 'vb', 'vd'] as const;
const KNOWN_LABELS: ReadonlySet<string> = new Set([...BASE_LABELS, ...REGULAR_LABELS]);
/** Labels whose presence in a list's first object says that it is SenML and not a plain batch. */
const TELLTALE_LABELS = ['n', 'bn', 'v', 'bv', 'vb', 't', 'bt', 'u', 'bu'] as const;

export interface SenmlRecord {
  readonly index: number;
  readonly name: string;
  readonly unit: string | undefined;
  /** Resolved seconds: since 1970, or relative to now where `relative`. */
  readonly timeS: number;
  readonly relative: boolean;
  /** A number, or vb's truth value. */
  readonly value: number | boolean;
}

export type SenmlPack =
  | { readonly ok: true; readonly records: SenmlRecord[]; readonly refused: RefusedEntry[] }
  | { readonly ok: false; readonly reason: string };

export function looksLikeSenml(list: readonly unknown[]): boolean {
  const first = list.find(isObject);
  return first !== undefined && TELLTALE_LABELS.some((label) => Object.hasOwn(first, label));
}

/**
 * Resolves a pack. A record that only carries base fields is neither a record nor a refusal. The pack as a whole is
 * refused where section 4.4 asks for it: a version above 10, versions that differ, an unknown label that ends in `_`.
 */
export function resolveSenml(list: readonly unknown[]): SenmlPack {
  const whole = packFault(list);
  if (whole !== undefined) return { ok: false, reason: whole };
  const records: SenmlRecord[] = [];
  const refused: RefusedEntry[] = [];
  const base: Base = { bn: '', bt: 0, bu: undefined, bv: undefined, bad: new Set() };
  for (const [index, record] of list.entries()) {
    if (!isObject(record)) {
      refused.push({ index, reason: `a SenML record is an object, not ${quoted(record)}` });
      continue;
    }
    takeBase(base, record);
    if (!REGULAR_LABELS.some((label) => Object.hasOwn(record, label)) && hasBase(record) && base.bad.size === 0)
      continue;
    const resolved = resolveRecord(index, record, base);
    if (typeof resolved === 'string') refused.push({ index, reason: resolved });
    else records.push(resolved);
  }
  return { ok: true, records, refused };
}

interface Base {
  bn: string;
  bt: number;
  bu: string | undefined;
  bv: number | undefined;
  /** Base fields whose latest value was of the wrong type: what depends on them can't be resolved. */
  readonly bad: Set<string>;
}

type JsonObject = Readonly<Record<string, unknown>>;

function isObject(value: unknown): value is JsonObject {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function hasBase(record: JsonObject): boolean {
  return BASE_LABELS.some((label) => Object.hasOwn(record, label));
}

function packFault(list: readonly unknown[]): string | undefined {
  let version: number | undefined;
  for (const record of list) {
    if (!isObject(record)) continue;
    for (const label of Object.keys(record)) {
      if (label.endsWith('_') && !KNOWN_LABELS.has(label)) {
        return `the SenML label ${quoted(label)} must be understood (it ends in _) and isn't (RFC 8428, 4.4)`;
      }
    }
    if (!Object.hasOwn(record, 'bver')) continue;
    const { bver } = record;
    if (typeof bver !== 'number' || !Number.isInteger(bver) || bver < 1) {
      return `the SenML version is a positive whole number, not ${quoted(bver)}`;
    }
    if (bver > SENML_VERSION) return `SenML version ${quoted(bver)} is newer than ${SENML_VERSION}, which is read here`;
    if (version !== undefined && version !== bver) return 'the records of a SenML pack have different versions';
    version = bver;
  }
  return undefined;
}

function takeBase(base: Base, record: JsonObject): void {
  const take = (label: 'bn' | 'bt' | 'bu' | 'bv', type: 'string' | 'number'): void => {
    if (!Object.hasOwn(record, label)) return;
    const value = record[label];
    const good = typeof value === type && (type === 'string' || Number.isFinite(value));
    if (!good) {
      base.bad.add(label);
      return;
    }
    base.bad.delete(label);
    Object.assign(base, { [label]: value });
  };
  take('bn', 'string');
  take('bt', 'number');
  take('bu', 'string');
  take('bv', 'number');
}

/** The resolved record, or why it can't be one. */
function resolveRecord(index: number, record: JsonObject, base: Base): SenmlRecord | string {
  for (const label of base.bad) return `the base field ${label} in force isn't of its type`;
  const { n, t, u } = record;
  if (n !== undefined && typeof n !== 'string') return `n isn't text but ${quoted(n)}`;
  if (t !== undefined && (typeof t !== 'number' || !Number.isFinite(t))) return `t isn't a number but ${quoted(t)}`;
  if (u !== undefined && typeof u !== 'string') return `u isn't text but ${quoted(u)}`;
  const given = VALUE_LABELS.filter((label) => Object.hasOwn(record, label));
  if (given.length > 1) return `a SenML record has one value, this one has ${given.join(' and ')}`;
  const value = resolveValue(record, given[0], base);
  if (typeof value === 'string') return value;
  const timeS = base.bt + ((t as number | undefined) ?? 0);
  const relative = timeS < SENML_RELATIVE_BELOW_S;
  return {
    index,
    name: base.bn + ((n as string | undefined) ?? ''),
    unit: (u as string | undefined) ?? base.bu,
    timeS,
    relative,
    value,
  };
}

/** Section 4.5.4: of base value and value, the missing one is nought. */
function resolveValue(
  record: JsonObject,
  label: (typeof VALUE_LABELS)[number] | undefined,
  base: Base,
): number | boolean | string {
  switch (label) {
    case 'v': {
      const { v } = record;
      if (typeof v !== 'number') return `v isn't a number but ${quoted(v)}`;
      return finite((base.bv ?? 0) + v);
    }
    case 'vb': {
      const { vb } = record;
      return typeof vb === 'boolean' ? vb : `vb isn't true or false but ${quoted(vb)}`;
    }
    case 'vs':
    case 'vd':
      return `the value is ${label === 'vs' ? 'text' : 'data'} (${label}), not a number`;
    case undefined:
      if (base.bv !== undefined) return finite(base.bv);
      return Object.hasOwn(record, 's') ? 'the record has a sum (s) and no value' : 'the record has no value';
    default:
      return label satisfies never;
  }
}

function finite(value: number): number | string {
  return Number.isFinite(value) ? value : 'the value is too large for a number';
}
