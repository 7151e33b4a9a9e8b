import { firstRowAt, quietestRow, type Seam, type SupplyRows, windowFrom } from './account-window.ts';
import type { Balance } from './balances.ts';
import { NOISY_BAR } from './edge-scan.ts';
import type { KnownStretch } from './known-draws.ts';
import type { OwnDraw } from './own-draw.ts';
import { accountByFlow, type MeteredWindow, settleByFlow } from './separate-by-flow.ts';
import { accountByPressure, settleByPressure } from './separate-by-pressure.ts';
import { CellSums, cellOriginMs, cellStepMs } from './standing-cells.ts';
import type { StreetEdge } from './street-edges.ts';
import type { SupplyParameters } from './supply-parameters.ts';
import type { TellingDraw } from './tap-law-fit.ts';

/** What is settled between two seams. */
export interface AccountPart {
  /** First row of the log that it covers, and the first one that it doesn't. */
  readonly fromRow: number;
  readonly toRow: number;
  /** Rows before this one made it what it is. */
  readonly readTo: number;
  readonly next: Seam | undefined;
  readonly cells: CellSums;
  readonly draws: readonly OwnDraw[];
  readonly streetEdges: readonly StreetEdge[];
  readonly telling: readonly TellingDraw[];
  readonly balances: readonly Balance[];
}

/**
 * The account of a log as it grows: parts of about a day, each between two moments at which nobody drew, and each made
 * from its own rows, a little of what came before and some hours of what came after. Rows that arrived one by one thus
 * give the parts of a log that is read at once.
 */
export interface SupplyAccount {
  readonly parameters: SupplyParameters;
  readonly knownDrawn: readonly KnownStretch[];
  readonly parts: AccountPart[];
}

export function beginAccount(parameters: SupplyParameters, knownDrawn: readonly KnownStretch[] = []): SupplyAccount {
  return { parameters, knownDrawn, parts: [] };
}

/** Settles what the rows so far allow. Rows given before must be those given now. */
export function accountOn(account: SupplyAccount, rows: SupplyRows): void {
  for (;;) {
    const part = nextPart(account, account.parts, rows, false);
    if (!part) return;
    account.parts.push(part);
  }
}

/** All parts if no more rows came: the settled ones, and those of the rows that aren't settled yet. */
export function partsAsOfNow(account: SupplyAccount, rows: SupplyRows): AccountPart[] {
  const parts = [...account.parts];
  for (;;) {
    const part = nextPart(account, parts, rows, true);
    if (!part) return parts;
    parts.push(part);
  }
}

/** Forgets what was settled with any row from the given one on. */
export function unsettleAccount(account: SupplyAccount, row: number): void {
  while (account.parts.length > 0 && account.parts.at(-1)!.readTo > row) account.parts.pop();
}

function nextPart(
  { parameters, knownDrawn }: SupplyAccount,
  before: readonly AccountPart[],
  rows: SupplyRows,
  isLast: boolean,
): AccountPart | undefined {
  const seam = before.length === 0 ? firstSeam(rows) : before.at(-1)!.next;
  if (!seam || seam.row >= rows.timeMs.length) return undefined;
  const { tuning, intervalS, metered, noiseBar } = parameters;
  const widest = tuning.longRows + tuning.slopeRows + (noiseBar > NOISY_BAR ? tuning.noisyRows : 0);
  const contextRows = 2 * widest + 4;
  for (let growth = 0; ; growth++) {
    const window = windowFrom(rows, seam, growth, intervalS * 1000, contextRows, isLast);
    if (!window) return undefined;
    const { flowLpm } = window;
    const byFlow = metered && flowLpm ? { ...window, flowLpm } : undefined;
    const flowing = byFlow ? accountByFlow(byFlow, parameters) : undefined;
    const byPressure = byFlow ? undefined : accountByPressure(window, parameters);
    const busy = byPressure?.busy ?? flowing!.map(({ fromRow, toRow }) => ({ fromRow: fromRow - 2, toRow: toRow + 2 }));
    const endRow = window.closesBlock ? window.to : quietestRow(window, busy, growth, contextRows);
    if (endRow === undefined) continue;
    const startMs = window.timeMs[window.from]!;
    const originMs = before[0]?.cells.originMs ?? cellOriginMs(startMs);
    const endMs = window.timeMs[endRow - 1]! + intervalS * 1000;
    const cells = new CellSums(originMs, startMs, endMs, cellStepMs(intervalS));
    const settled = byPressure
      ? settleByPressure(window, byPressure, endRow, parameters, knownDrawn, cells)
      : {
          draws: settleByFlow(byFlow as MeteredWindow, flowing!, endRow, parameters, cells),
          streetEdges: [],
          telling: [],
          balances: [],
        };
    const toRow = window.closesBlock
      ? window.nextRow
      : firstRowAt(rows.timeMs, 0, rows.timeMs.length, window.timeMs[endRow]!);
    return {
      fromRow: seam.row,
      toRow,
      readTo: window.nextRow,
      next: toRow < rows.timeMs.length ? { row: toRow, opensBlock: window.closesBlock } : undefined,
      cells,
      ...settled,
    };
  }
}

function firstSeam({ pressureBar }: SupplyRows): Seam | undefined {
  const row = pressureBar.findIndex((bar) => !Number.isNaN(bar));
  return row < 0 ? undefined : { row, opensBlock: true };
}
