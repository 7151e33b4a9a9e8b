import type { TrueColumns } from '../house.ts';

export interface TrueDraw {
  readonly startMs: number;
  readonly endMs: number;
  readonly dropBar: number;
  readonly meanLpm: number;
  /** Under what this sensor and rate can show: need not be found. */
  readonly optional: boolean;
}

/** A fall of less is a float valve's last trickle: no sample shows it. */
const DRAWING_ABOVE_BAR = 0.01;
const JOINED_UNDER_S = 3;
const LEAST_S = 5;
const LEAST_DROP_BAR = 0.03;
const LEAST_SAMPLES = 3;
const JOINED_SAMPLES = 2;

/**
 * The household's draws: where the own fall (standing less true reading) shows. Pauses under 3 s or two samples join;
 * under 5 s or 0.03 bar isn't listed; under three samples, 3 times the noise or two converter steps is optional.
 */
export function trueDraws(
  columns: TrueColumns,
  sensor: { readonly noiseBar: number; readonly stepBar: number; readonly intervalS: number },
): TrueDraw[] {
  const { standingBar, pressureBar, ownLpm, startMs } = columns;
  const joinedUnderS = Math.max(JOINED_UNDER_S, JOINED_SAMPLES * sensor.intervalS);
  const floorBar = Math.max(LEAST_DROP_BAR, 3 * sensor.noiseBar, 2 * sensor.stepBar);
  const floorS = Math.max(LEAST_S, LEAST_SAMPLES * sensor.intervalS);
  const draws: TrueDraw[] = [];
  let from = -1;
  let last = -1;
  const close = (): void => {
    const to = last + 1;
    let drop = 0;
    let flow = 0;
    for (let i = from; i < to; i++) {
      drop += standingBar[i]! - pressureBar[i]!;
      flow += ownLpm[i]!;
    }
    const seconds = to - from;
    const dropBar = drop / seconds;
    if (seconds >= LEAST_S && dropBar >= LEAST_DROP_BAR) {
      draws.push({
        startMs: startMs + from * 1000,
        endMs: startMs + to * 1000,
        dropBar,
        meanLpm: flow / seconds,
        optional: seconds < floorS || dropBar < floorBar,
      });
    }
    from = -1;
  };
  for (let i = 0; i < standingBar.length; i++) {
    // A closing pipe rings under the standing pressure too, with nothing drawn: flow decides first.
    const drawing = ownLpm[i]! > 0.05 && standingBar[i]! - pressureBar[i]! > DRAWING_ABOVE_BAR;
    if (drawing) {
      if (from >= 0 && i - last > joinedUnderS) close();
      if (from < 0) from = i;
      last = i;
    }
  }
  if (from >= 0) close();
  return draws;
}
