import type { Evidence, FindingsDocument } from '../analysis/findings.ts';
import { type FindingCounts, findingCounts } from '../contract/finding-counts.ts';

/** What open pages are told of a document as it grows; the document itself may have ten megabytes. */
export interface FindingsSummary {
  readonly evidence: Evidence;
  readonly counts: FindingCounts;
}

const LENGTH_BYTES = 4;

/** The document as JSON text, its summary, and the summary's length (4 bytes, little-endian), in one piece of bytes. */
export function packFindings(found: FindingsDocument): Uint8Array {
  const summary: FindingsSummary = { evidence: found.evidence, counts: findingCounts(found) };
  const encoder = new TextEncoder();
  const json = encoder.encode(JSON.stringify(found));
  const told = encoder.encode(JSON.stringify(summary));
  const packed = new Uint8Array(json.byteLength + told.byteLength + LENGTH_BYTES);
  packed.set(json);
  packed.set(told, json.byteLength);
  new DataView(packed.buffer).setUint32(packed.byteLength - LENGTH_BYTES, told.byteLength, true);
  return packed;
}

/** The parts of packed findings, without copying; the summary is parsed when it is asked for. */
export function unpackFindings(packed: Uint8Array): { readonly json: Uint8Array; summary(): FindingsSummary } {
  const view = new DataView(packed.buffer, packed.byteOffset, packed.byteLength);
  const toldEnd = packed.byteLength - LENGTH_BYTES;
  const toldStart = toldEnd - view.getUint32(toldEnd, true);
  return {
    json: packed.subarray(0, toldStart),
    summary: () => JSON.parse(new TextDecoder().decode(packed.subarray(toldStart, toldEnd))) as FindingsSummary,
  };
}
