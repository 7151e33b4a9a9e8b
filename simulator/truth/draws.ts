import type { TrueColumns } from '../house.ts';

export interface TrueDraw {
  readonly startMs: number;
  readonly endMs: number;
  readonly dropBar: number;
  readonly meanLpm: number;
  /** Under what this sensor and rate can show: need not be found. */
  readonly optional: boolean;
}

/** A cistern that fills under another tap falls by less: without a meter the tap alone is the draw that shows. */
const SHOWS_ABOVE_BAR = 0.02;
/** A fall of less is a float valve's last trickle: no sample shows it. */
const TRICKLES_ABOVE_BAR = 0.01;
const JOINED_UNDER_S = 3;
const LEAST_S = 5;
const LEAST_DROP_BAR = 0.03;
const LEAST_SAMPLES = 3;
const JOINED_SAMPLES = 2;

interface Stretch {
  readonly from: number;
  readonly to: number;
}

/**
 * The household's draws: where the own fall (standing less true reading) shows. Pauses under 3 s or two samples join. Under
 * 5 s, three samples, 0.03 bar, 3 times the noise or two converter steps a draw is optional; so is a trickle of 0.01 to
 * 0.02 bar that holds no draw.
 */
export function trueDraws(
  columns: TrueColumns,
  sensor: {
    readonly noiseBar: number;
    readonly stepBar: number;
    readonly intervalS: number;
    /** The log has the household's flow. */
    readonly metered?: boolean;
  },
): TrueDraw[] {
  const { startMs } = columns;
  const joinedUnderS = Math.max(JOINED_UNDER_S, JOINED_SAMPLES * sensor.intervalS);
  const floorBar = Math.max(LEAST_DROP_BAR, 3 * sensor.noiseBar, 2 * sensor.stepBar);
  const floorS = Math.max(LEAST_S, LEAST_SAMPLES * sensor.intervalS);
  const clear = stretchesAbove(columns, sensor.metered ? TRICKLES_ABOVE_BAR : SHOWS_ABOVE_BAR, joinedUnderS);
  const trickles = stretchesAbove(columns, TRICKLES_ABOVE_BAR, joinedUnderS).filter(
    (trickle) => !clear.some((draw) => draw.from < trickle.to && trickle.from < draw.to),
  );
  return [...clear, ...trickles]
    .sort((a, b) => a.from - b.from)
    .map(({ from, to }) => {
      let drop = 0;
      let flow = 0;
      for (let i = from; i < to; i++) {
        drop += columns.standingBar[i]! - columns.pressureBar[i]!;
        flow += columns.ownLpm[i]!;
      }
      const seconds = to - from;
      return {
        startMs: startMs + from * 1000,
        endMs: startMs + to * 1000,
        dropBar: drop / seconds,
        meanLpm: flow / seconds,
        optional: seconds < floorS || drop / seconds < floorBar,
      };
    });
}

function stretchesAbove(
  { standingBar, pressureBar, ownLpm }: TrueColumns,
  bar: number,
  joinedUnderS: number,
): Stretch[] {
  const found: Stretch[] = [];
  let from = -1;
  let last = -1;
  for (let i = 0; i < standingBar.length; i++) {
    // A closing pipe rings under the standing pressure too, with nothing drawn: flow decides first.
    if (ownLpm[i]! <= 0.05 || standingBar[i]! - pressureBar[i]! <= bar) continue;
    if (from >= 0 && i - last > joinedUnderS) {
      found.push({ from, to: last + 1 });
      from = -1;
    }
    if (from < 0) from = i;
    last = i;
  }
  if (from >= 0) found.push({ from, to: last + 1 });
  return found;
}
