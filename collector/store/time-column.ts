import { ByteReader, ByteWriter } from './byte-stream.ts';
import { type Packing, readStream, writeStream } from './number-column.ts';

/*
 * Ascending whole-number times (milliseconds into the hour) as bytes, exactly. A logger's clock mostly ticks evenly, so
 * a regular grid takes no byte a sample. Otherwise two forms are tried: what each step differs from the usual one (good
 * for gaps and for a clock that drifts), and how far each time lies from its place on a fixed grid (good for jitter,
 * where differences would carry the noise twice).
 */
const FORM = { grid: 0, steps: 1, offsets: 2 } as const;

/** Appends times, ascending strictly, whole and not negative. */
export function writeTimes(writer: ByteWriter, times: Float64Array, packing: Packing): void {
  const count = times.length;
  const first = times[0] ?? 0;
  const usualStep = count > 1 ? medianStep(times) : 1;
  writer.varint(first);
  if (liesOnGrid(times, usualStep)) {
    writer.byte(FORM.grid);
    writer.varint(usualStep);
    return;
  }
  const bySteps = new ByteWriter(count + 64);
  writeBySteps(bySteps, times, usualStep, packing);
  if (packing === 'plain') {
    writer.raw(bySteps.view());
    return;
  }
  const byOffsets = new ByteWriter(count + 64);
  writeByOffsets(byOffsets, times, meanStep(times, usualStep), packing);
  writer.raw((bySteps.length <= byOffsets.length ? bySteps : byOffsets).view());
}

/** Reads `count` times that `writeTimes` wrote, each with `originMs` added. */
export function readTimes(reader: ByteReader, count: number, originMs: number): Float64Array {
  const first = reader.varint() + originMs;
  const form = reader.byte();
  const step = reader.varint();
  const times = new Float64Array(count);
  if (count > 0) times[0] = first;
  if (form === FORM.grid) {
    for (let i = 1; i < count; i++) times[i] = first + i * step;
    return times;
  }
  const stream = new ByteReader(readStream(reader, count * 16));
  if (form === FORM.steps) {
    let at = first;
    for (let i = 1; i < count; i++) {
      at += step + stream.signedVarint();
      times[i] = at;
    }
    return times;
  }
  if (form !== FORM.offsets) throw new RangeError(`unknown form of times ${form}`);
  let place = 0;
  for (let i = 1; i < count; i++) {
    place += 1 + stream.signedVarint();
    times[i] = first + place * step;
  }
  for (let i = 1; i < count; i++) times[i] = times[i]! + stream.signedVarint();
  return times;
}

function writeBySteps(writer: ByteWriter, times: Float64Array, step: number, packing: Packing): void {
  writer.byte(FORM.steps);
  writer.varint(step);
  const stream = new ByteWriter(times.length + 16);
  for (let i = 1; i < times.length; i++) stream.signedVarint(times[i]! - times[i - 1]! - step);
  writeStream(writer, stream.view(), packing);
}

function writeByOffsets(writer: ByteWriter, times: Float64Array, step: number, packing: Packing): void {
  writer.byte(FORM.offsets);
  writer.varint(step);
  const first = times[0]!;
  const places = new ByteWriter(times.length + 16);
  const offsets = new ByteWriter(times.length + 16);
  let before = 0;
  for (let i = 1; i < times.length; i++) {
    const place = Math.round((times[i]! - first) / step);
    places.signedVarint(place - before - 1);
    offsets.signedVarint(times[i]! - first - place * step);
    before = place;
  }
  places.raw(offsets.view());
  writeStream(writer, places.view(), packing);
}

function liesOnGrid(times: Float64Array, step: number): boolean {
  const first = times[0] ?? 0;
  for (let i = 1; i < times.length; i++) if (times[i] !== first + i * step) return false;
  return true;
}

function medianStep(times: Float64Array): number {
  // The first steps almost always settle it: a grid is then confirmed in one pass without sorting.
  const firstStep = times[1]! - times[0]!;
  if (liesOnGrid(times, firstStep)) return firstStep;
  const steps = new Float64Array(times.length - 1);
  for (let i = 1; i < times.length; i++) steps[i - 1] = times[i]! - times[i - 1]!;
  steps.sort();
  return steps[steps.length >> 1]!;
}

/** Mean of the steps near the usual one, so that gaps don't bend it: jitter cancels out and the true interval is left. */
function meanStep(times: Float64Array, usualStep: number): number {
  let sum = 0;
  let count = 0;
  for (let i = 1; i < times.length; i++) {
    const step = times[i]! - times[i - 1]!;
    if (Math.abs(step - usualStep) * 4 > usualStep) continue;
    sum += step;
    count++;
  }
  return Math.max(1, Math.round(sum / count));
}
