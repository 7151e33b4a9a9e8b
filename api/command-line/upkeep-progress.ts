/** Lines of progress are at least this far apart, so that a log of them stays short. */
const LINE_EVERY_MS = 1000;

/** Tells on standard error how far a long task is; the last step is always told. */
export function progressLines(words: (done: number, total: number) => string): (done: number, total: number) => void {
  let lastMs = Number.NEGATIVE_INFINITY;
  let lastLine = '';
  return (done, total) => {
    const nowMs = performance.now();
    if (nowMs - lastMs < LINE_EVERY_MS && done < total) return;
    lastMs = nowMs;
    const line = words(done, total);
    if (line !== lastLine) process.stderr.write(`${line}\n`);
    lastLine = line;
  };
}

export function percent(done: number, total: number): string {
  return `${total > 0 ? Math.floor((100 * done) / total) : 100} %`;
}
