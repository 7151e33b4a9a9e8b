/** One run of the pump. Rows are those of `PumpRows`. */
export interface PumpRun {
  readonly startMs: number;
  readonly startRow: number;
  /** Undefined where the stop isn't seen: a gap, the log's end, or a pump running on. */
  readonly stopMs?: number;
  readonly stopRow?: number;
  /** It ran before the first row that tells, or on after the last: the log begins or ends within it, or a gap does. */
  readonly startUnseen?: true;
  readonly stopUnseen?: true;
  readonly cutInBar?: number;
  readonly cutOutBar?: number;
  readonly onDemand?: boolean;
}
