import { z } from 'zod';
import { POSITIONS } from '../../collector/model/channel.ts';
import {
  CAUSE_FIGURES,
  CYCLING_CAUSES,
  CYCLING_KINDS,
  FAULT_KINDS,
  FITTING_ANSWERS,
  type FindingsDocument,
  PUMP_STATES,
} from '../analysis/findings.ts';
import { pattern } from './pattern-schema.ts';
import { thresholds } from './payload-parts.ts';

/* The findings document as a schema, for the API description and for checks in tests. Further keys are allowed. */

const time = z.string().meta({ format: 'date-time' });
const interval = { start: time, end: time };
const certainty = z.enum(['certain', 'possible']);
const sagWindow = z.enum(['morning', 'evening']);
const pair = z.tuple([z.number(), z.number()]);

const sag = z.looseObject({
  day: z.string(),
  window: sagWindow,
  state: z.enum(['present', 'absent', 'unknown']),
  start: time.optional(),
  lowest: time.optional(),
  end: time.optional(),
  depthBar: z.number().optional(),
  depthSdBar: z.number().optional(),
  nightLevelBar: z.number().optional(),
  lowestBar: z.number().optional(),
  startsBefore: z.boolean().optional(),
  recovered: z.boolean().optional(),
  certainty: certainty.optional(),
  reason: z.string().optional(),
});

const inletPullFigures = {
  runs: z.number(),
  weakRuns: z.number(),
  lowestBar: z.number(),
  medianPullBar: z.number().optional(),
  worstPullBar: z.number().optional(),
};

const lowSupply = z.looseObject({
  ...interval,
  minBar: z.number(),
  lowestAt: time,
  meanBar: z.number(),
  thresholdBar: z.number(),
  certainty,
  belowFraction: z.number(),
  seenFraction: z.number(),
  qualifying: z.boolean(),
  standardUncertaintyBar: z.number(),
});

const causeRanking = z.looseObject({
  rule: z.string(),
  figures: z.array(
    z.looseObject({
      figure: z.enum(CAUSE_FIGURES),
      value: z.number(),
      unit: z.enum(['bar', '%', 's', 'bar/s', 'l']),
      sd: z.number().optional(),
      /** Where the causes part. */
      limit: z.number().optional(),
      name: z.string(),
      tells: z.string(),
    }),
  ),
  /** Odds of a passing check valve against a leak: over 1 the valve is likelier, under 1 the leak. */
  odds: z
    .looseObject({
      checkValveToLeak: z.number(),
      fromDecay: z.number().optional(),
      fromHours: z.number().optional(),
      needed: z.number(),
      most: z.number(),
      probability: z.number(),
    })
    .optional(),
});

const cycling = z.looseObject({
  ...interval,
  kind: z.enum(CYCLING_KINDS),
  starts: z.number(),
  startsPerHour: z.number(),
  /** True where the rows are too coarse to count: the starts are then the least there were. */
  startsAtLeast: z.boolean().optional(),
  causes: z.array(z.enum(CYCLING_CAUSES)),
  reasons: z.array(z.string()).optional(),
  ranking: causeRanking.optional(),
  nextSteps: z.array(z.string()).optional(),
});

const cyclingDay = z.looseObject({
  day: z.string(),
  kinds: z.array(z.enum(CYCLING_KINDS)),
  episodes: z.number(),
  starts: z.number(),
  /** Starts of any kind in the worst 60 min that end on this day. */
  mostStartsPerHour: z.number(),
  startsAtLeast: z.boolean().optional(),
  causes: z.array(z.enum(CYCLING_CAUSES)),
});

const pumpState = z.looseObject({
  ...interval,
  kind: z.enum(PUMP_STATES),
  /** Pressure held meanwhile in bar; starts in the worst hour for `too_many_starts`, in the spell for `outside_hours`. */
  value: z.number(),
  reason: z.string(),
  certainty: certainty.optional(),
  cutInBar: z.number().optional(),
  cutOutBar: z.number().optional(),
  rule: z.string().optional(),
  nextSteps: z.array(z.string()).optional(),
});

const pumpTrend = z.looseObject({
  figure: z.enum(['filling', 'cut_out']),
  firstDay: z.string().optional(),
  lastDay: z.string().optional(),
  days: z.number(),
  /** In 30 days: a share of the median for `filling`, bar for `cut_out`. */
  perMonth: z.number(),
  p: z.number(),
  rule: z.string().optional(),
  nextSteps: z.array(z.string()).optional(),
});

const pumpLitres = z.looseObject({
  usable: z
    .looseObject({
      litres: z.number(),
      interval: pair,
      from: z.enum(['bucket', 'flow_channel', 'boyle']),
      runs: z.number(),
    })
    .optional(),
  loss: z.looseObject({ lpm: z.number(), interval: pair, rests: z.number() }).optional(),
  fillLpm: z.number().optional(),
  mostStartsPerHour: z.number().optional(),
});

const pumpCurve = z.looseObject({
  points: z.number(),
  /** Median of the head seen over the head of the curve at the same flow. */
  headShare: z.number(),
  interval: pair,
  verdict: z.enum(['on_its_curve', 'below_its_curve', 'cannot_tell']),
  rule: z.string().optional(),
  nextSteps: z.array(z.string()).optional(),
});

const fitting = z.looseObject({
  at: time,
  from: z.enum(['entered', 'log']),
  outlets: z.array(
    z.looseObject({
      quantity: z.enum(['flowLpm', 'pressureBar']),
      pairs: z.array(z.looseObject({ outlet: z.string(), before: z.number(), after: z.number() })),
      gain: z.number().optional(),
      interval: pair.optional(),
      answer: z.enum(FITTING_ANSWERS),
    }),
  ),
  logged: z.array(
    z.looseObject({
      /** Of the logged pressure of a day: its median, and what it keeps for 95 % of the day. */
      figure: z.enum(['median', 'kept95']),
      daysBefore: z.number(),
      daysAfter: z.number(),
      fromBar: z.number(),
      toBar: z.number(),
      /** Missing with fewer than three days a side. */
      interval: pair.optional(),
      answer: z.enum(FITTING_ANSWERS),
    }),
  ),
});

const document = z.looseObject({
  series: z.looseObject({
    start: time.nullable(),
    end: time.nullable(),
    samples: z.number(),
    intervalS: z.number().nullable(),
    timeZone: z.string(),
    position: z.enum(POSITIONS),
  }),
  standing: z
    .looseObject({
      start: time,
      stepS: z.number(),
      bar: z.array(z.number().nullable()),
      sdBar: z.array(z.number().nullable()),
      interpolated: z.array(z.union([z.literal(0), z.literal(1)])).optional(),
    })
    .optional(),
  draws: z.array(
    z.looseObject({
      ...interval,
      dropBar: z.number(),
      meanLpm: z.number().optional(),
      litres: z.number().optional(),
    }),
  ),
  sags: z.array(sag),
  lowSupply: z.array(lowSupply),
  pumpStarts: z.array(
    z.looseObject({
      start: time,
      stop: time.optional(),
      onDemand: z.boolean().optional(),
      cutInBar: z.number().optional(),
      cutOutBar: z.number().optional(),
      /** Seconds on, and off since the previous stop. */
      onS: z.number().optional(),
      offS: z.number().optional(),
      /** Seconds from switching to the pump's full rise, with one standard deviation; only where the rows show it. */
      spinUpS: z.number().optional(),
      spinUpSdS: z.number().optional(),
    }),
  ),
  cycling: z.array(cycling),
  cyclingDays: z.array(cyclingDay).optional(),
  weakInlet: z.array(
    z.looseObject({
      ...interval,
      minBar: z.number(),
      pullBar: z.number().optional(),
      standingBar: z.number().optional(),
      atRangeEnd: z.boolean().optional(),
    }),
  ),
  inletPull: z
    .looseObject({ ...inletPullFigures, hours: z.array(z.looseObject({ hour: z.number(), ...inletPullFigures })) })
    .optional(),
  pumpStates: z.array(pumpState).optional(),
  pumpTrends: z.array(pumpTrend).optional(),
  pumpLitres: pumpLitres.optional(),
  pumpCurve: pumpCurve.optional(),
  fitting: fitting.optional(),
  faults: z.array(
    z.looseObject({
      ...interval,
      kind: z.enum(FAULT_KINDS),
      count: z.number().optional(),
      detail: z.string().optional(),
      column: z.literal('inlet_bar').optional(),
    }),
  ),
  changes: z.array(
    z.looseObject({
      at: time,
      kind: z.enum(['supply', 'property', 'booster', 'sensor']),
      fromBar: z.number(),
      toBar: z.number(),
      sizeIntervalBar: pair.optional(),
      timeInterval: z.tuple([time, time]).optional(),
    }),
  ),
  coverage: z.looseObject({
    expected: z.number(),
    received: z.number(),
    validFraction: z.number(),
    days: z.array(z.looseObject({ day: z.string(), expected: z.number(), received: z.number(), valid: z.number() })),
    reason: z.string().optional(),
    rawErased: z.array(z.looseObject({ start: z.string(), end: z.string() })).optional(),
  }),
  sensorUBar: z.number(),
  sensorBudget: z.array(z.looseObject({ source: z.string(), standardUncertaintyBar: z.number() })),
  noiseBar: z.number().optional(),
  quantumBar: z.number().optional(),
  detectionFloor: z.looseObject({ dropBar: z.number(), durationS: z.number(), note: z.string() }).optional(),
  servicePipe: z
    .looseObject({
      kBarPerLpmN: z.number(),
      exponent: z.number(),
      kIntervalBarPerLpmN: pair.optional(),
      exponentInterval: pair.optional(),
      draws: z.number(),
      sdBar: z.number(),
    })
    .optional(),
  thresholds,
  qualifying: z.looseObject({
    occasions: z.array(z.number()),
    pairs: z.array(pair),
    interpretation: z.string(),
  }),
  sagSummary: z.array(
    z.looseObject({
      window: sagWindow,
      days: z.enum(['weekdays', 'weekend']),
      present: z.number(),
      judged: z.number(),
      unknown: z.number(),
      usualStartLocal: z.string().optional(),
      usualEndLocal: z.string().optional(),
      medianDepthBar: z.number().optional(),
      depthRangeBar: pair.optional(),
      /** Judged days whose fall lies within its uncertainty (k = 2) of the least that counts. */
      inDoubt: z.number(),
      /** Days that fell far enough in the window only and at midday only, of so many; from the second sagging day on. */
      chance: z
        .looseObject({
          p: z.number(),
          test: z.string(),
          days: z.number(),
          onlyHere: z.number(),
          onlyMidday: z.number(),
        })
        .optional(),
      /** More days of this kind that make the statement firm; null where four weeks of them wouldn't. */
      daysToFirm: z.number().nullable(),
    }),
  ),
  /** Weekdays against weekend days, by Fisher's exact test. */
  sagComparison: z
    .array(
      z.looseObject({
        window: sagWindow,
        p: z.number(),
        test: z.string(),
        differ: z.boolean(),
        /** Whole weeks more, like those seen, that would tell them apart; null beyond four. */
        weeksToTell: z.number().nullable(),
      }),
    )
    .optional(),
  pattern: pattern.optional(),
  evidence: z.looseObject({
    statements: z.array(z.looseObject({ text: z.string(), certainty: z.enum(['certain', 'possible', 'unknown']) })),
    open: z.array(z.string()),
    moreDays: z.number().optional(),
    logging: z.looseObject({ longEnough: z.boolean(), text: z.string() }).optional(),
  }),
  limits: z.array(z.string()),
  versions: z.looseObject({ analysis: z.string() }),
});

// A finding that isn't described is one that nobody outside knows of.
document.shape satisfies Record<keyof FindingsDocument, z.ZodType>;

/**
 * What the server adds to a findings document: whose record it is, and the end of the span that was read. Where the
 * request left the end open it may lie a minute back (or ten times what the answer took to make, at most 15 minutes).
 */
const until = time.meta({
  format: 'date-time',
  description:
    'End of the span that was read. Where the request gives no `to` and samples are coming in, it may lie a minute back, or ten times what the answer took to make, at most 15 minutes.',
});
const ofLogger = document.extend({ logger: z.string(), until: until.optional() });

export type LoggerFindings = FindingsDocument & { readonly logger: string; readonly until?: string };

/** Findings of a site: those of one logger, the others' beside it. `logger` null: nothing was ever recorded there. */
export type SiteFindings = FindingsDocument & {
  readonly logger: string | null;
  readonly until?: string;
  readonly others: readonly LoggerFindings[];
};

// The schema's type says `x?: T | undefined` where the document says `x?: T`; JSON knows no difference.
export const loggerFindings = ofLogger as unknown as z.ZodType<LoggerFindings>;
export const siteFindings = document.extend({
  logger: z.string().nullable(),
  until: until.optional(),
  others: z.array(ofLogger),
}) as unknown as z.ZodType<SiteFindings>;
