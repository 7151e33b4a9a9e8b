import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { matchSpans, type Score, type Span, scoreOf } from './event-matching.ts';

/** The labels of a log, in the findings document's shape; `optional` ones need not be found. */
export interface Labels {
  readonly standing?: { readonly start: string; readonly stepS: number; readonly bar: readonly (number | null)[] };
  readonly draws: readonly LabelledSpan[];
  readonly hiddenDraws?: readonly LabelledSpan[];
  readonly sags: readonly {
    readonly day: string;
    readonly window: string;
    readonly state: string;
    readonly start?: string;
    readonly end?: string;
    readonly depthBar?: number;
  }[];
  readonly lowSupply: readonly (LabelledSpan & { readonly minBar: number; readonly certainty: string })[];
  readonly faults: readonly (LabelledSpan & { readonly kind: string })[];
  readonly changes: readonly {
    readonly at: string;
    readonly kind: string;
    readonly fromBar: number;
    readonly toBar: number;
  }[];
}

interface LabelledSpan {
  readonly start: string;
  readonly end: string;
  readonly optional?: boolean;
}

export interface Measured {
  readonly draws: Score;
  readonly sags: Score;
  /** Mean absolute error of the depth of sags present in both. */
  readonly sagDepthErrorBar: number | undefined;
  readonly lowSupply: Score;
  readonly certaintyRight: Score;
  readonly faults: Score;
  readonly changes: Score;
  /** Root mean square error of standing pressure over points known, all and inside draws. */
  readonly standingRmse: number | undefined;
  readonly standingInDrawsRmse: number | undefined;
  /** Mean error: the sensor's own offset, which no analysis can see. */
  readonly standingBiasBar: number | undefined;
  readonly standingKnown: number;
  /** Share of points whose error is within two of the stated deviations. */
  readonly withinTwoSd: number | undefined;
  /** Minutes called low supply that lie in an own draw while the standing pressure was above the threshold. */
  readonly falseBlameMinutes: number;
}

const DRAW_OVERLAP = 0.5;
const LOW_OVERLAP = 0.5;
const FAULT_OVERLAP = 0.3;

function spanOf(interval: { readonly start: string; readonly end: string }): Span {
  return { startMs: Date.parse(interval.start), endMs: Date.parse(interval.end) };
}

/** Compares findings with labels. One ruler for the report and for the gate. */
export function measureFindings(found: FindingsDocument, labels: Labels, intervalS: number): Measured {
  return {
    draws: scoreDraws(found, labels, intervalS),
    ...scoreSags(found, labels),
    ...scoreLow(found, labels),
    faults: scoreFaults(found, labels, intervalS),
    changes: scoreChanges(found, labels),
    ...compareStanding(found, labels),
    falseBlameMinutes: falseBlame(found, labels),
  };
}

function scoreDraws(found: FindingsDocument, labels: Labels, intervalS: number): Score {
  const hidden = (labels.hiddenDraws ?? []).map((draw) => ({ ...draw, optional: true }));
  const truth = [...labels.draws, ...hidden];
  const spans = found.draws.map(spanOf);
  const tolerance = Math.max(2000, 1500 * intervalS);
  const pairs = matchSpans(truth.map(spanOf), spans, DRAW_OVERLAP, tolerance);
  const asked = truth.filter((draw) => !draw.optional).length;
  const matched = pairs.filter(([t]) => !truth[t]!.optional).length;
  return scoreOf(asked, spans.length - (pairs.length - matched), matched);
}

function scoreSags(found: FindingsDocument, labels: Labels): Pick<Measured, 'sags' | 'sagDepthErrorBar'> {
  const present = labels.sags.filter((sag) => sag.state === 'present');
  const unknown = new Set(labels.sags.filter((sag) => sag.state === 'unknown').map((sag) => sag.day + sag.window));
  const claims = found.sags.filter((sag) => sag.state === 'present' && !unknown.has(sag.day + sag.window));
  let matched = 0;
  let error = 0;
  for (const claim of claims) {
    const label = present.find((sag) => sag.day === claim.day && sag.window === claim.window);
    if (!label) continue;
    matched++;
    error += Math.abs((label.depthBar ?? 0) - (claim.depthBar ?? 0));
  }
  return {
    sags: scoreOf(present.length, claims.length, matched),
    sagDepthErrorBar: matched > 0 ? error / matched : undefined,
  };
}

function scoreLow(found: FindingsDocument, labels: Labels): Pick<Measured, 'lowSupply' | 'certaintyRight'> {
  const pairs = matchSpans(labels.lowSupply.map(spanOf), found.lowSupply.map(spanOf), LOW_OVERLAP, 30_000);
  const right = pairs.filter(([t, f]) => labels.lowSupply[t]!.certainty === found.lowSupply[f]!.certainty).length;
  return {
    lowSupply: scoreOf(labels.lowSupply.length, found.lowSupply.length, pairs.length),
    certaintyRight: scoreOf(pairs.length, pairs.length, right),
  };
}

function scoreFaults(found: FindingsDocument, labels: Labels, intervalS: number): Score {
  let matched = 0;
  const claims = found.faults.filter((fault) => fault.kind !== 'quantised');
  for (const kind of new Set(labels.faults.map((fault) => fault.kind))) {
    matched += matchSpans(
      labels.faults.filter((fault) => fault.kind === kind).map(spanOf),
      claims.filter((fault) => fault.kind === kind).map(spanOf),
      FAULT_OVERLAP,
      Math.max(10_000, 2000 * intervalS),
    ).length;
  }
  return scoreOf(labels.faults.length, claims.length, matched);
}

function scoreChanges(found: FindingsDocument, labels: Labels): Score {
  const near = 6 * 3_600_000;
  let matched = 0;
  const left = [...found.changes];
  for (const label of labels.changes) {
    const index = left.findIndex(
      (change) => change.kind === label.kind && Math.abs(Date.parse(change.at) - Date.parse(label.at)) <= near,
    );
    if (index < 0) continue;
    matched++;
    left.splice(index, 1);
  }
  return scoreOf(labels.changes.length, found.changes.length, matched);
}

function compareStanding(
  found: FindingsDocument,
  labels: Labels,
): Pick<Measured, 'standingRmse' | 'standingInDrawsRmse' | 'standingBiasBar' | 'standingKnown' | 'withinTwoSd'> {
  if (!found.standing || !labels.standing) {
    return {
      standingRmse: undefined,
      standingInDrawsRmse: undefined,
      standingBiasBar: undefined,
      standingKnown: 0,
      withinTwoSd: undefined,
    };
  }
  const { standing } = labels;
  const offset = Math.round((Date.parse(found.standing.start) - Date.parse(standing.start)) / (standing.stepS * 1000));
  const stride = found.standing.stepS / standing.stepS;
  let all = 0;
  let squares = 0;
  let sum = 0;
  let inDraws = 0;
  let drawSquares = 0;
  let within = 0;
  found.standing.bar.forEach((bar, j) => {
    const truth = standing.bar[Math.round(j * stride + offset)];
    if (bar === null || truth === null || truth === undefined) return;
    const error = bar - truth;
    all++;
    squares += error * error;
    sum += error;
    if (Math.abs(error) <= 2 * (found.standing?.sdBar[j] ?? 0)) within++;
    if (found.standing?.interpolated?.[j] === 1) {
      inDraws++;
      drawSquares += error * error;
    }
  });
  return {
    standingRmse: all > 0 ? Math.sqrt(squares / all) : undefined,
    standingInDrawsRmse: inDraws > 0 ? Math.sqrt(drawSquares / inDraws) : undefined,
    standingBiasBar: all > 0 ? sum / all : undefined,
    standingKnown: all / Math.max(1, found.standing.bar.length),
    withinTwoSd: all > 0 ? within / all : undefined,
  };
}

/** Time called low in which the household drew and the labels know of no low supply. */
function falseBlame(found: FindingsDocument, labels: Labels): number {
  const low = labels.lowSupply.map(spanOf);
  let ms = 0;
  for (const claim of found.lowSupply.map(spanOf)) {
    for (const draw of labels.draws.map(spanOf)) {
      const from = Math.max(claim.startMs, draw.startMs);
      const to = Math.min(claim.endMs, draw.endMs);
      if (to <= from) continue;
      const excused = low.reduce((sum, p) => sum + Math.max(0, Math.min(to, p.endMs) - Math.max(from, p.startMs)), 0);
      ms += Math.max(0, to - from - excused);
    }
  }
  return ms / 60_000;
}
