/** A linear scale from values to places on paper, with round ticks. */
export interface Scale {
  readonly place: (value: number) => number;
  readonly ticks: readonly number[];
  readonly top: number;
}

const ROUND_STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10];
const MOST_TICKS = 6;

/** Pressure from nought to a round value above `highestBar`, placed from `bottom` (nought) up to `top`. */
export function pressureScale(highestBar: number, bottom: number, top: number): Scale {
  const wanted = Math.max(0.5, highestBar);
  const step = ROUND_STEPS.find((candidate) => wanted / candidate <= MOST_TICKS) ?? ROUND_STEPS.at(-1)!;
  const topBar = Math.ceil((wanted * 1.02) / step) * step;
  const count = Math.round(topBar / step);
  return {
    place: (value) => bottom - (Math.min(Math.max(value, 0), topBar) / topBar) * (bottom - top),
    ticks: Array.from({ length: count + 1 }, (_, index) => Math.round(index * step * 1000) / 1000),
    top: topBar,
  };
}
