/** A queue of one: each action starts when the one before has ended, well or not. For look-then-write. */
export function serially(): <Result>(action: () => Promise<Result>) => Promise<Result> {
  let last: Promise<unknown> = Promise.resolve();
  return (action) => {
    const run = last.then(action);
    last = run.catch(() => undefined);
    return run;
  };
}
