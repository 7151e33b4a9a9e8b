import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { matchSpans, type Score, type Span, scoreOf } from './event-matching.ts';
import type { Truth } from './other-street/true-findings.ts';

/** The figures of one log, in the units of the table; sums rather than means where logs are to be added up. */
export interface SupplyFigures {
  readonly draws: Score;
  /** Sums over matched draws of the relative error of the fall and of the flow, and how many had one. */
  readonly fallError: Sum;
  readonly flowError: Sum;
  readonly neighbourTaken: number;
  /** Minutes of own draws called low supply while the standing pressure was not low: in all, and as `certain`. */
  readonly blamedMin: number;
  readonly blamedCertainMin: number;
  readonly low: Score;
  readonly falselyLowMin: number;
  readonly certaintyWrong: number;
  readonly pairs: Score;
  readonly sags: Score;
  readonly sagsWrong: number;
  readonly depthError: Sum;
  readonly standingSquares: Sum;
  readonly inDrawsSquares: Sum;
  readonly saidVariance: Sum;
  readonly asked: number;
  readonly answered: number;
  readonly faults: Readonly<Record<string, Score>>;
  readonly changes: Score;
}

export interface Sum {
  readonly sum: number;
  readonly count: number;
}

const HALF = 0.5;
const FAULT_OVERLAP = 0.3;
const MINUTE_MS = 60_000;
const PAIR_MS = 28 * 24 * 3_600_000;
const CHANGE_NEAR_MS = 12 * 3_600_000;

const spanOf = (interval: { readonly start: string; readonly end: string }): Span => ({
  startMs: Date.parse(interval.start),
  endMs: Date.parse(interval.end),
});

export function supplyFigures(
  found: FindingsDocument,
  truth: Truth,
  intervalS: number,
  metered: boolean,
): SupplyFigures {
  return {
    ...drawFigures(found, truth, intervalS, metered),
    ...lowFigures(found, truth),
    ...sagFigures(found, truth),
    ...standingFigures(found, truth),
    faults: faultFigures(found, truth, intervalS),
    changes: changeFigures(found, truth),
  };
}

function drawFigures(found: FindingsDocument, truth: Truth, intervalS: number, metered: boolean) {
  const spans = found.draws.map(spanOf);
  // What the log cannot tell from an own draw is neither right nor wrong.
  const labels = metered ? truth.draws : [...truth.draws, ...truth.neighbourDraws];
  const pairs = matchDraws(labels, spans, Math.max(3000, 2000 * intervalS));
  const asked = labels.filter((draw) => !draw.optional).length;
  const right = pairs.filter(([t]) => !labels[t]!.optional);
  const fallError = { sum: 0, count: 0 };
  const flowError = { sum: 0, count: 0 };
  for (const [t, f] of right) {
    const label = truth.draws[t]!;
    const draw = found.draws[f]!;
    fallError.sum += Math.abs(draw.dropBar - label.dropBar) / label.dropBar;
    fallError.count++;
    if (draw.meanLpm === undefined) continue;
    flowError.sum += Math.abs(draw.meanLpm - label.meanLpm) / label.meanLpm;
    flowError.count++;
  }
  const taken = new Set(pairs.map(([, f]) => f));
  const own = (span: Span) => truth.draws.some((d) => d.startMs < span.endMs && span.startMs < d.endMs);
  // A tap over a cistern too weak to be asked for: its own few seconds are a part of what need not be reported.
  const parts = spans.filter(
    (span, f) =>
      !taken.has(f) && labels.some((l) => l.optional && overlapMs(l, span) >= HALF * (span.endMs - span.startMs)),
  ).length;
  const neighbourTaken = metered
    ? spans.filter(
        (span, f) =>
          !taken.has(f) &&
          !own(span) &&
          truth.neighbourDraws.some((d) => d.startMs < span.endMs && span.startMs < d.endMs),
      ).length
    : 0;
  return {
    draws: scoreOf(asked, spans.length - parts - (pairs.length - right.length), right.length),
    fallError,
    flowError,
    neighbourTaken,
  };
}

/** Half overlap, or an onset within the tolerance; one to one, asked labels first, best overlap first. */
export function matchDraws(
  labels: readonly (Span & { readonly optional: boolean })[],
  found: readonly Span[],
  toleranceMs: number,
): [number, number][] {
  const byOverlap = matchSpans(labels, found, HALF, 0);
  const takenLabels = new Set(byOverlap.map(([t]) => t));
  const takenFound = new Set(byOverlap.map(([, f]) => f));
  const byOnset: { t: number; f: number; off: number }[] = [];
  const left = found
    .map((span, f) => ({ span, f }))
    .filter(({ f }) => !takenFound.has(f))
    .sort((a, b) => a.span.startMs - b.span.startMs);
  labels.forEach((label, t) => {
    if (takenLabels.has(t)) return;
    for (const { span, f } of left) {
      const off = Math.abs(span.startMs - label.startMs);
      if (off <= toleranceMs) byOnset.push({ t, f, off: off + (label.optional ? 1e6 : 0) });
    }
  });
  byOnset.sort((a, b) => a.off - b.off);
  for (const { t, f } of byOnset) {
    if (takenLabels.has(t) || takenFound.has(f)) continue;
    takenLabels.add(t);
    takenFound.add(f);
    byOverlap.push([t, f]);
  }
  return byOverlap;
}

const overlapMs = (a: Span, b: Span) => Math.max(0, Math.min(a.endMs, b.endMs) - Math.max(a.startMs, b.startMs));

/** Labels that overlap (a firm period within a wider optional one) excuse a minute once. */
function united(labels: readonly Span[]): Span[] {
  const joined: Span[] = [];
  for (const { startMs, endMs } of [...labels].sort((a, b) => a.startMs - b.startMs)) {
    const last = joined.at(-1);
    if (last && startMs <= last.endMs)
      joined[joined.length - 1] = { startMs: last.startMs, endMs: Math.max(last.endMs, endMs) };
    else joined.push({ startMs, endMs });
  }
  return joined;
}

function lowFigures(found: FindingsDocument, truth: Truth) {
  const claims = found.lowSupply.map(spanOf);
  const pairs = matchSpans(truth.lowSupply, claims, HALF, 30_000);
  const right = pairs.filter(([t]) => !truth.lowSupply[t]!.optional);
  let blamed = 0;
  let blamedCertain = 0;
  let falselyLow = 0;
  claims.forEach((claim, f) => {
    const excused = united(truth.lowSupply.filter((low) => overlapMs(low, claim) > 0));
    falselyLow += claim.endMs - claim.startMs - excused.reduce((sum, low) => sum + overlapMs(low, claim), 0);
    for (const draw of truth.draws) {
      const ms = overlapMs(claim, draw);
      if (ms === 0) continue;
      const inDraw = { startMs: Math.max(claim.startMs, draw.startMs), endMs: Math.min(claim.endMs, draw.endMs) };
      const wrong = ms - excused.reduce((sum, low) => sum + overlapMs(low, inDraw), 0);
      blamed += wrong;
      if (found.lowSupply[f]!.certainty === 'certain') blamedCertain += wrong;
    }
  });
  return {
    low: scoreOf(
      truth.lowSupply.filter((low) => !low.optional).length,
      claims.length - (pairs.length - right.length),
      right.length,
    ),
    blamedMin: blamed / MINUTE_MS,
    blamedCertainMin: blamedCertain / MINUTE_MS,
    falselyLowMin: falselyLow / MINUTE_MS,
    certaintyWrong: right.filter(
      ([t, f]) => truth.lowSupply[t]!.certain !== (found.lowSupply[f]!.certainty === 'certain'),
    ).length,
    pairs: pairFigures(found, truth, pairs),
  };
}

/** A period this near to an hour: a few seconds at its ends decide. */
const HOUR_MS = 3_600_000;
const NEAR_AN_HOUR_MS = 150_000;

/** Pairs of certain periods of an hour, from the list of periods as any reader of the document would form them. */
function pairFigures(found: FindingsDocument, truth: Truth, matched: readonly (readonly [number, number])[]): Score {
  const near = (span: Span) => Math.abs(span.endMs - span.startMs - HOUR_MS) < NEAR_AN_HOUR_MS;
  const sure = truth.lowSupply.flatMap((low, t) =>
    low.qualifying && low.certain && !low.optional && !near(low) ? [t] : [],
  );
  const labelOf = new Map(matched.map(([t, f]) => [f, t]));
  const claimed = found.lowSupply.flatMap((low, f) => {
    const label = labelOf.get(f);
    if (!low.qualifying || low.certainty !== 'certain') return [];
    return label !== undefined && near(truth.lowSupply[label]!) ? [] : [f];
  });
  const pairsOf = (list: readonly number[], startOf: (index: number) => number) =>
    list.flatMap((a) => list.filter((b) => b > a && startOf(b) - startOf(a) <= PAIR_MS).map((b) => [a, b] as const));
  const labelled = pairsOf(sure, (t) => truth.lowSupply[t]!.startMs);
  const claims = pairsOf(claimed, (f) => Date.parse(found.lowSupply[f]!.start));
  const right = claims.filter(([a, b]) => labelled.some(([x, y]) => labelOf.get(a) === x && labelOf.get(b) === y));
  return scoreOf(labelled.length, claims.length, right.length);
}

function sagFigures(found: FindingsDocument, truth: Truth) {
  const depthError = { sum: 0, count: 0 };
  let present = 0;
  let claimed = 0;
  let right = 0;
  for (const label of truth.sags) {
    if (label.state === 'open') continue;
    const claim = found.sags.find((sag) => sag.day === label.day && sag.window === label.window);
    const says = claim?.state === 'present';
    if (label.state === 'present') present++;
    if (says) claimed++;
    if (!says || label.state !== 'present') continue;
    right++;
    depthError.sum += Math.abs((claim.depthBar ?? 0) - label.depthBar);
    depthError.count++;
  }
  return { sags: scoreOf(present, claimed, right), sagsWrong: present + claimed - 2 * right, depthError };
}

function standingFigures(found: FindingsDocument, truth: Truth) {
  const all = { sum: 0, count: 0 };
  const inDraws = { sum: 0, count: 0 };
  const said = { sum: 0, count: 0 };
  const minutes = truth.standingBar.length;
  const drawn = new Uint8Array(minutes);
  for (const { startMs, endMs } of truth.draws) {
    for (
      let j = Math.max(0, Math.ceil((startMs - truth.startMs) / MINUTE_MS));
      j * MINUTE_MS + truth.startMs < endMs && j < minutes;
      j++
    )
      drawn[j] = 1;
  }
  let asked = 0;
  for (const bar of truth.standingBar) if (Number.isFinite(bar)) asked++;
  const { standing } = found;
  standing?.bar.forEach((bar, k) => {
    const at = (Date.parse(standing.start) + k * standing.stepS * 1000 - truth.startMs) / MINUTE_MS;
    const j = Math.floor(at);
    if (bar === null || j < 0 || j >= minutes) return;
    const here = truth.standingBar[j]!;
    const next = truth.standingBar[j + 1] ?? here;
    const label = at === j ? here : here + (at - j) * (next - here);
    if (!Number.isFinite(label)) return;
    const squared = (bar - label) ** 2;
    all.sum += squared;
    all.count++;
    said.sum += (standing.sdBar[k] ?? 0) ** 2;
    said.count++;
    if (drawn[j] === 1) {
      inDraws.sum += squared;
      inDraws.count++;
    }
  });
  return { standingSquares: all, inDrawsSquares: inDraws, saidVariance: said, asked, answered: all.count };
}

function faultFigures(found: FindingsDocument, truth: Truth, intervalS: number): Record<string, Score> {
  const claims = found.faults.filter((fault) => fault.kind !== 'quantised');
  const figures: Record<string, Score> = {};
  for (const kind of new Set([...truth.faults, ...claims].map((fault) => fault.kind))) {
    const labels = truth.faults.filter((fault) => fault.kind === kind);
    const spans = claims.filter((fault) => fault.kind === kind).map(spanOf);
    const pairs = matchSpans(labels, spans, FAULT_OVERLAP, Math.max(10_000, 2000 * intervalS));
    // Samples that went under a wrong clock are missing at their own time: a gap there is no wrong finding.
    const missing = kind === 'gap' ? spans.filter((span, f) => isMissing(span, f, pairs, truth)).length : 0;
    figures[kind] = scoreOf(labels.length, spans.length - missing, pairs.length);
  }
  return figures;
}

function isMissing(span: Span, f: number, pairs: readonly (readonly [number, number])[], truth: Truth): boolean {
  return (
    !pairs.some(([, taken]) => taken === f) &&
    truth.blind.some((b) => overlapMs(b, span) > 0.5 * (span.endMs - span.startMs))
  );
}

function changeFigures(found: FindingsDocument, truth: Truth): Score {
  const left = [...found.changes];
  let matched = 0;
  for (const label of truth.changes) {
    const at = left.findIndex(
      (change) => change.kind === label.kind && Math.abs(Date.parse(change.at) - label.atMs) <= CHANGE_NEAR_MS,
    );
    if (at < 0) continue;
    left.splice(at, 1);
    matched++;
  }
  return scoreOf(truth.changes.length, found.changes.length, matched);
}

/** Adds up logs: counts and sums, F1 from the added counts. */
export function addFigures(list: readonly SupplyFigures[]): SupplyFigures {
  const scores = (pick: (figures: SupplyFigures) => Score | undefined) => {
    const all = list.map(pick).filter((score) => score !== undefined);
    const total = (key: 'truth' | 'found' | 'matched') => all.reduce((sum, score) => sum + score[key], 0);
    return scoreOf(total('truth'), total('found'), total('matched'));
  };
  const sum = (pick: (figures: SupplyFigures) => number) => list.reduce((total, figures) => total + pick(figures), 0);
  const sums = (pick: (figures: SupplyFigures) => Sum) => ({
    sum: sum((f) => pick(f).sum),
    count: sum((f) => pick(f).count),
  });
  const kinds = [...new Set(list.flatMap((figures) => Object.keys(figures.faults)))].sort();
  return {
    draws: scores((f) => f.draws),
    fallError: sums((f) => f.fallError),
    flowError: sums((f) => f.flowError),
    neighbourTaken: sum((f) => f.neighbourTaken),
    blamedMin: sum((f) => f.blamedMin),
    blamedCertainMin: sum((f) => f.blamedCertainMin),
    low: scores((f) => f.low),
    falselyLowMin: sum((f) => f.falselyLowMin),
    certaintyWrong: sum((f) => f.certaintyWrong),
    pairs: scores((f) => f.pairs),
    sags: scores((f) => f.sags),
    sagsWrong: sum((f) => f.sagsWrong),
    depthError: sums((f) => f.depthError),
    standingSquares: sums((f) => f.standingSquares),
    inDrawsSquares: sums((f) => f.inDrawsSquares),
    saidVariance: sums((f) => f.saidVariance),
    asked: sum((f) => f.asked),
    answered: sum((f) => f.answered),
    faults: Object.fromEntries(kinds.map((kind) => [kind, scores((f) => f.faults[kind])])),
    changes: scores((f) => f.changes),
  };
}
