import type { FindingsDocument } from '../analysis/findings.ts';

/** How many findings of each kind a document holds: another count means that something was found. */
export interface FindingCounts {
  readonly draws: number;
  /** Windows in which the street sagged. */
  readonly sags: number;
  readonly lowSupply: number;
  readonly pumpStarts: number;
  readonly cycling: number;
  readonly weakInlet: number;
  readonly pumpStates: number;
  readonly pumpTrends: number;
  /** Figures of the vessel that are known: its usable litres, what is lost, what the pump fills. */
  readonly pumpLitres: number;
  /** 1 once operating points lie beside the pump's curve. */
  readonly pumpCurve: number;
  readonly faults: number;
  readonly changes: number;
}

export function findingCounts(found: FindingsDocument): FindingCounts {
  return {
    draws: found.draws.length,
    sags: found.sags.filter(({ state }) => state === 'present').length,
    lowSupply: found.lowSupply.length,
    pumpStarts: found.pumpStarts.length,
    cycling: found.cycling.length,
    weakInlet: found.weakInlet.length,
    pumpStates: found.pumpStates?.length ?? 0,
    pumpTrends: found.pumpTrends?.length ?? 0,
    pumpLitres: Object.keys(found.pumpLitres ?? {}).length,
    pumpCurve: found.pumpCurve ? 1 : 0,
    faults: found.faults.length,
    changes: found.changes.length,
  };
}

export function sameCounts(one: FindingCounts, other: FindingCounts): boolean {
  return (Object.keys(one) as (keyof FindingCounts)[]).every((kind) => one[kind] === other[kind]);
}
