import { Problem } from '../../collector/model/problem.ts';

/** Ports tried where one is taken. */
const PORTS_TRIED = 100;

/** The port asked for, or (where allowed) the first free one after it, which is said in `notes`. */
export async function onFreePort<Result>(
  wanted: number,
  takeNext: boolean,
  notes: string[],
  tryPort: (port: number) => Promise<Result>,
): Promise<Result> {
  for (let port = wanted; ; port++) {
    try {
      const result = await tryPort(port);
      if (port !== wanted) notes.push(`Port ${wanted} is taken, so ${port} is used.`);
      return result;
    } catch (error) {
      const { port: takenPort } = error instanceof Problem ? error.details : {};
      const taken = error instanceof Problem && error.code === 'port_taken' && takenPort === port;
      if (!taken || !takeNext || port >= Math.min(wanted + PORTS_TRIED, 65_535)) throw error;
    }
  }
}
