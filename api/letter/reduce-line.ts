/**
 * A line of many points on narrow paper: per column its lowest and highest point in the order in which they come, so
 * that no extreme is lost; broken at nulls and where neighbours lie more than `longestStepMs` apart.
 */
export function reduceLine(
  timeMs: ArrayLike<number>,
  value: ArrayLike<number | null>,
  place: (atMs: number, bar: number) => readonly [number, number],
  columnWidth: number,
  longestStepMs: number,
): [number, number][][] {
  const pieces: [number, number][][] = [];
  let piece: [number, number][] = [];
  let column = Number.NaN;
  let low: [number, number] | undefined;
  let high: [number, number] | undefined;
  let lowFirst = true;
  let lastMs = Number.NaN;
  const closeColumn = () => {
    if (!low || !high) return;
    if (low === high) piece.push(low);
    else piece.push(...(lowFirst ? [low, high] : [high, low]));
    low = undefined;
    high = undefined;
  };
  const closePiece = () => {
    closeColumn();
    if (piece.length > 0) pieces.push(piece);
    piece = [];
    column = Number.NaN;
  };
  for (let index = 0; index < timeMs.length; index++) {
    const bar = value[index];
    const atMs = timeMs[index]!;
    if (bar === null || bar === undefined || Number.isNaN(bar)) {
      closePiece();
      continue;
    }
    if (atMs - lastMs > longestStepMs || atMs < lastMs) closePiece();
    lastMs = atMs;
    const [x, y] = place(atMs, bar);
    const here = Math.floor(x / columnWidth);
    if (here !== column) {
      closeColumn();
      column = here;
    }
    const point: [number, number] = [x, y];
    // Greater y is lower on paper.
    if (!low || y > low[1]) {
      low = point;
      lowFirst = false;
    }
    if (!high || y < high[1]) {
      high = point;
      lowFirst = low !== point;
    }
  }
  closePiece();
  return pieces;
}
