import type { TrueColumns } from './hydraulic-run.ts';
import type { Seeded } from './seeded.ts';

export interface Transducer {
  readonly rangeBar: readonly [number, number];
  readonly accuracyBar: number;
  readonly noiseBar: number;
  /** Converter step, 0 for stored digits of 0.1 mbar only. */
  readonly stepBar: number;
  readonly zeroBar: number;
  /** Wander of the zero over the whole log. */
  readonly driftBar: number;
}

/** How many of each fault the log gets. */
export interface FaultPlan {
  readonly gap?: number;
  readonly stuck?: number;
  readonly spike?: number;
  readonly out_of_range?: number;
  readonly offset_step?: number;
  readonly clock_jump?: number;
  readonly duplicate?: number;
  readonly late?: number;
}

export interface LabelledFault {
  readonly kind: keyof FaultPlan;
  readonly startMs: number;
  readonly endMs: number;
}

export interface Rows {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm: Float64Array | undefined;
}

export interface Logged {
  readonly rows: Rows;
  readonly faults: readonly LabelledFault[];
  /** Stretches of which the log tells nothing. */
  readonly blind: readonly { readonly startMs: number; readonly endMs: number }[];
  readonly offsetSteps: readonly { readonly atMs: number; readonly byBar: number }[];
}

interface Row {
  at: number;
  bar: number;
  lpm: number;
}

/** Samples the true columns as a device would, then spoils values and the way they travelled. */
export function logRows(
  columns: TrueColumns,
  sensor: Transducer,
  metered: boolean,
  intervalS: number,
  plan: FaultPlan,
  chance: Seeded,
  device?: { readonly filterS: number; readonly jitterMs: number },
): Logged {
  const { startMs, ringBar, ownLpm } = columns;
  const runningBar = device && device.filterS > 0 ? filtered(columns.runningBar, device.filterS) : columns.runningBar;
  const seconds = runningBar.length;
  const stepMs = intervalS * 1000;
  const count = Math.floor(seconds / intervalS);
  const rows: Row[] = [];
  const grain = sensor.stepBar > 0 ? sensor.stepBar : 1e-4;
  const meterShare = 1 + 0.005 * chance.normal();
  for (let i = 0; i < count; i++) {
    const s = i * intervalS;
    const clean = runningBar[s]! + ringBar[s]! + sensor.zeroBar + (sensor.driftBar * s) / seconds;
    let flow = 0;
    if (metered) {
      for (let k = Math.max(0, s - intervalS + 1); k <= s; k++) flow += ownLpm[k]!;
      flow = Math.round((flow / intervalS) * meterShare * 20) / 20;
      if (flow < 0.25) flow = 0;
    }
    rows.push({
      at: startMs + s * 1000,
      bar: grain * Math.round((clean + sensor.noiseBar * chance.normal()) / grain),
      lpm: flow,
    });
  }
  const kinds = (Object.keys(plan) as (keyof FaultPlan)[]).flatMap((kind) =>
    Array<keyof FaultPlan>(plan[kind] ?? 0).fill(kind),
  );
  for (let i = kinds.length - 1; i > 0; i--) {
    const k = chance.whole(0, i);
    [kinds[i], kinds[k]] = [kinds[k]!, kinds[i]!];
  }
  const faults: LabelledFault[] = [];
  const blind: { startMs: number; endMs: number }[] = [];
  const offsetSteps: { atMs: number; byBar: number }[] = [];
  const timeOf = (row: number) => startMs + row * stepMs;
  const travels: { kind: keyof FaultPlan; from: number; to: number }[] = [];
  kinds.forEach((kind, slot) => {
    // Each in a slot of its own, so that labels don't overlap.
    const slotFrom = Math.ceil(count * (0.02 + (0.96 * slot) / kinds.length));
    const slotRows = Math.floor((0.96 * count) / kinds.length);
    const at = slotFrom + Math.floor(slotRows * chance.between(0.05, 0.45));
    const rowsOf = (fromS: number, toS: number) =>
      Math.max(6, Math.min(Math.floor(0.4 * slotRows), Math.round(chance.betweenLog(fromS, toS) / intervalS)));
    const mark = (to: number, hides: boolean) => {
      faults.push({ kind, startMs: timeOf(at), endMs: timeOf(to) });
      if (hides) blind.push({ startMs: timeOf(at), endMs: timeOf(to) });
    };
    switch (kind) {
      case 'stuck': {
        const to = at + rowsOf(Math.max(900, 60 * intervalS), 4 * 3600);
        for (let i = at + 1; i < to; i++) rows[i]!.bar = rows[at]!.bar;
        mark(to, true);
        break;
      }
      case 'out_of_range': {
        const to = at + (chance.chance(0.4) ? chance.whole(1, 4) : rowsOf(60, 1800));
        const [from, top] = sensor.rangeBar;
        const bar = chance.chance(0.5) ? from - 0.125 * (top - from) : top + 0.08 * (top - from);
        for (let i = at; i < to; i++) rows[i]!.bar = bar;
        mark(to, true);
        break;
      }
      case 'spike': {
        const up = chance.chance(0.6) || intervalS > 2;
        rows[at]!.bar = up
          ? rows[at]!.bar + chance.between(0.6, 3)
          : Math.max(0, rows[at]!.bar - chance.between(0.8, 2));
        faults.push({ kind, startMs: timeOf(at), endMs: timeOf(at) });
        break;
      }
      case 'offset_step': {
        const byBar = chance.pick([-1, 1]) * chance.between(0.12, 0.45);
        for (let i = at; i < count; i++) rows[i]!.bar += byBar;
        offsetSteps.push({ atMs: timeOf(at), byBar });
        faults.push({ kind, startMs: timeOf(at), endMs: timeOf(at) });
        break;
      }
      default:
        travels.push({
          kind,
          from: at,
          to: at + rowsOf(Math.max(90, 6 * intervalS), kind === 'clock_jump' ? 3600 : 5400),
        });
    }
  });
  if (device && device.jitterMs > 0) {
    const most = Math.min(0.2 * stepMs, 3 * device.jitterMs);
    for (const row of rows) row.at += Math.round(Math.max(-most, Math.min(most, device.jitterMs * chance.normal())));
  }
  return { rows: travel(rows, travels, stepMs, faults, blind, metered, chance), faults, blind, offsetSteps };
}

/** A first-order filter between the pressure and the converter. */
function filtered(column: Float64Array, timeConstantS: number): Float64Array {
  const kept = Math.exp(-1 / timeConstantS);
  const result = new Float64Array(column.length);
  let here = column[0] ?? 0;
  for (let s = 0; s < column.length; s++) {
    here = kept * here + (1 - kept) * column[s]!;
    result[s] = here;
  }
  return result;
}

/** Gaps, second deliveries, late batches and wrong clocks, in order of arrival. */
function travel(
  sent: readonly Row[],
  travels: readonly { kind: keyof FaultPlan; from: number; to: number }[],
  stepMs: number,
  faults: LabelledFault[],
  blind: { startMs: number; endMs: number }[],
  metered: boolean,
  chance: Seeded,
): Rows {
  const arrived: Row[] = [];
  let i = 0;
  for (const { kind, from, to } of [...travels].sort((a, b) => a.from - b.from)) {
    while (i < from) arrived.push(sent[i++]!);
    const batch = sent.slice(from, to);
    const startMs = sent[from]!.at;
    const endMs = sent[to]!.at;
    i = to;
    if (kind === 'gap') {
      faults.push({ kind, startMs, endMs });
      blind.push({ startMs, endMs });
    } else if (kind === 'duplicate') {
      // QoS 1 after a reconnection: the same batch once more, at once or some rows later.
      const later = chance.whole(0, 30);
      arrived.push(...batch, ...sent.slice(to, to + later), ...batch);
      i = to + later;
      faults.push({ kind, startMs, endMs });
    } else if (kind === 'late') {
      const later = Math.max(2, Math.round(chance.betweenLog(5, 600)));
      arrived.push(...sent.slice(to, to + later), ...batch);
      i = to + later;
      faults.push({ kind, startMs, endMs });
    } else {
      const ahead = chance.chance(0.6);
      const jumpMs = (ahead ? 1 : -1) * Math.round(chance.betweenLog(1.5, 30) * (to - from)) * stepMs;
      const jumped = ahead ? jumpMs : Math.max(jumpMs, -Math.floor(from / 2) * stepMs);
      arrived.push(...batch.map((row) => ({ ...row, at: row.at + jumped })));
      const lastWrong = batch.at(-1)!.at + jumped;
      const lastRight = startMs - stepMs;
      faults.push({ kind, startMs: Math.min(lastRight, lastWrong), endMs: Math.max(lastRight, lastWrong) });
      blind.push({ startMs, endMs });
    }
  }
  while (i < sent.length) arrived.push(sent[i++]!);
  return {
    timeMs: Float64Array.from(arrived, (row) => row.at),
    pressureBar: Float64Array.from(arrived, (row) => row.bar),
    flowLpm: metered ? Float64Array.from(arrived, (row) => row.lpm) : undefined,
  };
}
