/** One run of the pump. Rows are those of `PumpRows`. */
export interface PumpRun {
  readonly startMs: number;
  readonly startRow: number;
  /** Undefined where the stop isn't seen: a gap, the log's end, or a pump running on. */
  readonly stopMs?: number;
  readonly stopRow?: number;
  readonly cutInBar?: number;
  readonly cutOutBar?: number;
  readonly onDemand?: boolean;
}
