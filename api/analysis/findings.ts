import type { Position } from '../../collector/model/channel.ts';
import type { OutletReading, PumpSetting } from '../../collector/model/pump-setting.ts';
import type { Thresholds } from '../../collector/model/site.ts';

/*
 * The findings document: what `analyse --json` prints, the API serves, the page and the letter draw. Times RFC 3339 in
 * UTC, pressures in bar (gauge), flows in l/min, intervals half open [start, end). A key that doesn't apply is missing.
 */

/** What is known about the place and the sensor; absent parts take the documented defaults. */
export interface AnalysisSite {
  readonly timeZone: string;
  readonly intervalS?: number | undefined;
  readonly sensor: {
    readonly position: Position;
    readonly rangeBar: readonly [number, number];
    /** Limits of error ±a, rectangular. Undefined: 1 % of the range is taken, and the document says so. */
    readonly accuracyBar?: number | undefined;
    /** Remaining standard uncertainty after a calibration; replaces the accuracy where given. */
    readonly calibrationStandardUncertaintyBar?: number | undefined;
    readonly heightAboveSupplyPointM: number;
  };
  /** The second transducer, before the pump: what is known of it. */
  readonly inletSensor?:
    | {
        readonly rangeBar?: readonly [number, number] | undefined;
        readonly heightAboveSupplyPointM?: number | undefined;
      }
    | undefined;
  readonly hasFlowMeter: boolean;
  /** Where the meter sits, where that is known: on the pump's own line before its vessel, or where only the household's draws pass. */
  readonly meters?: MeterPlace | undefined;
  /** Hours whose single samples were erased by age, ascending; times in ms, half open. They are neither gaps nor judged. */
  readonly rawErased?: readonly { readonly fromMs: number; readonly toMs: number }[];
  readonly thresholds: Thresholds;
  /** What is known of the pump; all of it may be missing. */
  readonly pump?: PumpSetting | undefined;
  /** When something was fitted, and what the outlets gave on visits before and after. */
  readonly fittedMs?: number | undefined;
  readonly outletReadings?: readonly OutletReading[] | undefined;
}

/** What a flow meter sees: all that the pump moves and nothing else, or what the household draws, from a vessel as well. */
export type MeterPlace = 'pump' | 'household';

/**
 * Rows in order of arrival, as columns of one length: they may be late, repeated, missing or stamped by a wrong clock.
 * NaN in a column marks "no reading in this row"; nothing else uses NaN.
 */
export interface AnalysisColumns {
  readonly timeMs: Float64Array;
  readonly pressureBar: Float64Array;
  readonly flowLpm?: Float64Array | undefined;
  readonly pumpOn?: Float64Array | undefined;
  readonly inletBar?: Float64Array | undefined;
}

export type Certainty = 'certain' | 'possible';

export interface Interval {
  readonly start: string;
  readonly end: string;
}

export interface Draw extends Interval {
  /** Mean of standing minus reading over the draw. */
  readonly dropBar: number;
  readonly meanLpm?: number;
  readonly litres?: number;
}

export interface Sag {
  /** Local calendar date. */
  readonly day: string;
  readonly window: 'morning' | 'evening';
  readonly state: 'present' | 'absent' | 'unknown';
  /** Crossings of half the depth; only where present. */
  readonly start?: string;
  readonly lowest?: string;
  readonly end?: string;
  readonly depthBar?: number;
  /** One standard deviation of the depth. */
  readonly depthSdBar?: number;
  readonly nightLevelBar?: number;
  readonly lowestBar?: number;
  readonly startsBefore?: boolean;
  readonly recovered?: boolean;
  readonly certainty?: Certainty;
  /** Why it can't be told, or what made the judgement, in words. */
  readonly reason?: string;
}

export interface LowSupply extends Interval {
  readonly minBar: number;
  /** When it was lowest. */
  readonly lowestAt: string;
  readonly meanBar: number;
  readonly thresholdBar: number;
  readonly certainty: Certainty;
  /** Share of the period truly below the threshold. */
  readonly belowFraction: number;
  /** Share of the period seen directly, not interpolated through draws. */
  readonly seenFraction: number;
  readonly qualifying: boolean;
  /** One standard uncertainty of the standing pressure in the period, sensor included. */
  readonly standardUncertaintyBar: number;
}

export interface PumpStart {
  readonly start: string;
  readonly stop?: string;
  /** Missing where rate or position don't let it be told. */
  readonly onDemand?: boolean;
  readonly cutInBar?: number;
  readonly cutOutBar?: number;
  /** Time on, and time off since the previous stop; missing where a stop wasn't seen or a gap lies between. */
  readonly onS?: number;
  readonly offS?: number;
  /**
   * From its switching to its full rise, and one standard deviation of it. Missing where no channel tells when it switched,
   * or where the rows don't show it.
   */
  readonly spinUpS?: number;
  readonly spinUpSdS?: number;
}

export const CYCLING_CAUSES = ['leak', 'check_valve', 'lost_precharge', 'narrow_differential'] as const;
export type CyclingCause = (typeof CYCLING_CAUSES)[number];

export const CYCLING_KINDS = ['no_demand', 'rapid_on_demand', 'normal'] as const;

export interface Cycling extends Interval {
  readonly kind: (typeof CYCLING_KINDS)[number];
  readonly starts: number;
  readonly startsPerHour: number;
  /** True where the rows are too coarse to count: `starts` and `startsPerHour` are then the least there were. */
  readonly startsAtLeast?: boolean;
  readonly causes: readonly CyclingCause[];
  /** The figures that made the ranking, and what to do next to tell causes apart. */
  readonly reasons?: readonly string[];
  readonly ranking?: CauseRanking;
  readonly nextSteps?: readonly string[];
}

/** How the causes of an episode were ranked: the rule in words, the figures that separate them, odds where they decide. */
export interface CauseRanking {
  readonly rule: string;
  readonly figures: readonly CauseFigure[];
  /** Only where a leak and a passing check valve are told apart. */
  readonly odds?: CauseOdds;
}

export const CAUSE_FIGURES = [
  'band',
  'irregularity',
  'fill',
  'rest_while_drawn',
  'swing',
  'falls_towards',
  'inlet',
  'loss_by_hour',
  'drawdown',
] as const;

export interface CauseFigure {
  readonly figure: (typeof CAUSE_FIGURES)[number];
  readonly value: number;
  readonly unit: 'bar' | '%' | 's' | 'bar/s' | 'l';
  /** One standard deviation, where one can be given. */
  readonly sd?: number;
  /** Where the causes part. */
  readonly limit?: number;
  /** The figure by name, and what it tells. */
  readonly name: string;
  readonly tells: string;
}

/** Odds of a passing check valve against a leak; beforehand both are taken as equally common. */
export interface CauseOdds {
  /** Over 1: the check valve is likelier; under 1: the leak. The product of those below, each bounded. */
  readonly checkValveToLeak: number;
  /** From the shape of the pressure's fall at rest, and from how the loss goes with the main by the hour; missing where untold. */
  readonly fromDecay?: number;
  readonly fromHours?: number;
  /** Odds to one side at which only that side is named, and the most that one kind of evidence counts for. */
  readonly needed: number;
  readonly most: number;
  /** Probability of the first named of the two. */
  readonly probability: number;
}

/** Cycling on one local day. */
export interface CyclingDay {
  readonly day: string;
  readonly kinds: readonly Cycling['kind'][];
  /** Episodes that touch the day, and their starts on it. */
  readonly episodes: number;
  readonly starts: number;
  /** Starts of any kind in the worst 60 min that end on this day: what the motor's limit is held against. */
  readonly mostStartsPerHour: number;
  /** True where the rows are too coarse to count: both are then the least there were. */
  readonly startsAtLeast?: boolean;
  /** Likeliest first, kind by kind; both where two can't be told apart. */
  readonly causes: readonly CyclingCause[];
}

export interface WeakInlet extends Interval {
  readonly minBar: number;
  /** How far the pump pulls its inlet below the standing pressure of that moment, and that pressure. */
  readonly pullBar?: number;
  readonly standingBar?: number;
  /** True where the lowest lies at or below the end of the sensor's range: the truth may be lower still. */
  readonly atRangeEnd?: boolean;
}

/** What a pump does to its inlet, over all runs with a reading there. Pulls are told where a standing pressure was seen. */
export interface InletPullFigures {
  readonly runs: number;
  readonly weakRuns: number;
  readonly lowestBar: number;
  readonly medianPullBar?: number;
  readonly worstPullBar?: number;
}

export interface InletPull extends InletPullFigures {
  /** By the local hour in which a run started, ascending; hours without a run are missing. */
  readonly hours: readonly (InletPullFigures & { readonly hour: number })[];
}

export const PUMP_STATES = [
  'runs_on',
  'no_rise',
  'did_not_start',
  'did_not_stop',
  'outside_hours',
  'too_many_starts',
] as const;
export type PumpStateKind = (typeof PUMP_STATES)[number];

/** A spell in which a pump doesn't do what it is there for. */
export interface PumpState extends Interval {
  readonly kind: PumpStateKind;
  /** Pressure held meanwhile; starts in the worst hour for `too_many_starts`, starts in the spell for `outside_hours`. */
  readonly value: number;
  readonly reason: string;
  /** `possible` where what the log holds leaves another account of it. */
  readonly certainty?: Certainty;
  /** The switch's levels at the time, where they are known. */
  readonly cutInBar?: number;
  readonly cutOutBar?: number;
  /** The rule by which it was found, what to do next, likeliest first, cautions last. */
  readonly rule?: string;
  readonly nextSteps?: readonly string[];
}

/** A slow change of what a pump can do, from daily figures. */
export interface PumpTrend {
  readonly figure: 'filling' | 'cut_out';
  /** First and last local day of those judged. */
  readonly firstDay?: string;
  readonly lastDay?: string;
  readonly days: number;
  /** Theil–Sen slope a month (30 days): a share of the median for `filling`, bar for `cut_out`. */
  readonly perMonth: number;
  /** One-sided chance of so steady a trend in days that are alike (Mann–Kendall). */
  readonly p: number;
  readonly rule?: string;
  /** Only where it gets worse. */
  readonly nextSteps?: readonly string[];
}

/** Litres of a pump's vessel, and what leaks, with what they rest on. */
export interface PumpLitres {
  /** Usable litres between cut-out and cut-in, and their 95 % interval. */
  readonly usable?: {
    readonly litres: number;
    readonly interval: readonly [number, number];
    readonly from: 'bucket' | 'flow_channel' | 'boyle';
    readonly runs: number;
  };
  /** Water lost at rest while the pump cycles without demand. */
  readonly loss?: { readonly lpm: number; readonly interval: readonly [number, number]; readonly rests: number };
  /** The pump's mean flow while it fills its vessel with nobody drawing. */
  readonly fillLpm?: number;
  /** Most starts in an hour that any demand can cause, 15·Q/V. */
  readonly mostStartsPerHour?: number;
}

/** How the pump's operating points lie to its curve: the median of head seen over head of the curve at the same flow. */
export interface PumpCurveCheck {
  readonly points: number;
  readonly headShare: number;
  readonly interval: readonly [number, number];
  readonly verdict: 'on_its_curve' | 'below_its_curve' | 'cannot_tell';
  readonly rule?: string;
  readonly nextSteps?: readonly string[];
}

export const FITTING_ANSWERS = ['worked', 'made it worse', 'no change shown', 'too few readings'] as const;
export type FittingAnswer = (typeof FITTING_ANSWERS)[number];

/** Before and after a fitting: did it work? Intervals 95 %. */
export interface FittingFinding {
  readonly at: string;
  /** The owner said when, or the log shows a booster's fitting. */
  readonly from: 'entered' | 'log';
  readonly outlets: readonly {
    readonly quantity: 'flowLpm' | 'pressureBar';
    readonly pairs: readonly { readonly outlet: string; readonly before: number; readonly after: number }[];
    readonly gain?: number;
    readonly interval?: readonly [number, number];
    readonly answer: FittingAnswer;
  }[];
  /** Daily figures of the logged pressure: its median, and what it keeps for 95 % of the day. */
  readonly logged: readonly {
    readonly figure: 'median' | 'kept95';
    readonly daysBefore: number;
    readonly daysAfter: number;
    readonly fromBar: number;
    readonly toBar: number;
    /** Missing with fewer than three days a side. */
    readonly interval?: readonly [number, number];
    readonly answer: FittingAnswer;
  }[];
}

export const FAULT_KINDS = [
  'gap',
  'stuck',
  'spike',
  'out_of_range',
  'offset_step',
  'clock_jump',
  'duplicate',
  'late',
  'quantised',
] as const;
export type FaultKind = (typeof FAULT_KINDS)[number];

export interface Fault extends Interval {
  readonly kind: FaultKind;
  readonly count?: number;
  readonly detail?: string;
  /** The log's column, where it isn't the pressure. */
  readonly column?: 'inlet_bar';
}

export interface Change {
  readonly at: string;
  readonly kind: 'supply' | 'property' | 'booster' | 'sensor';
  readonly fromBar: number;
  readonly toBar: number;
  /** 95 % interval of the size, and of the time. */
  readonly sizeIntervalBar?: readonly [number, number];
  readonly timeInterval?: readonly [string, string];
}

/** lossBar = kBarPerLpmN · flowLpm ** exponent, fitted to openings and closings of the household's own draws. */
export interface ServicePipe {
  readonly kBarPerLpmN: number;
  readonly exponent: number;
  /** 95 % intervals, bootstrapped over draws; missing where too few tell. */
  readonly kIntervalBarPerLpmN?: readonly [number, number];
  readonly exponentInterval?: readonly [number, number];
  readonly draws: number;
  /** Robust deviation of a measured loss from the curve. */
  readonly sdBar: number;
}

export interface DayCoverage {
  readonly day: string;
  readonly expected: number;
  readonly received: number;
  readonly valid: number;
}

export interface SagSummary {
  readonly window: 'morning' | 'evening';
  readonly days: 'weekdays' | 'weekend';
  readonly present: number;
  readonly judged: number;
  readonly unknown: number;
  readonly usualStartLocal?: string;
  readonly usualEndLocal?: string;
  readonly medianDepthBar?: number;
  readonly depthRangeBar?: readonly [number, number];
  /** Of the judged days, those whose fall lies within its expanded uncertainty (k = 2) of the least that counts. */
  readonly inDoubt: number;
  /**
   * Whether days sag in this window oftener than at midday: of `days` days judged at both hours so many fell far enough
   * in the window only, so many at midday only; chance of that where both are alike, with the test's name. From the
   * second sagging day on.
   */
  readonly chance?: {
    readonly p: number;
    readonly test: string;
    readonly days: number;
    readonly onlyHere: number;
    readonly onlyMidday: number;
  };
  /**
   * How many more days of this kind, like those seen, make the statement firm: that days sag here oftener than at midday,
   * or, where none did, that they do so on fewer than half of the days. 0: it is. null: four weeks of them wouldn't.
   */
  readonly daysToFirm: number | null;
}

/** Do weekdays and weekend days sag alike? */
export interface SagComparison {
  readonly window: 'morning' | 'evening';
  /** Chance of so great a difference where all days are alike, with the test's name. */
  readonly p: number;
  readonly test: string;
  readonly differ: boolean;
  /** Whole weeks more, like those seen, that would tell them apart; 0 where they are; null beyond four. */
  readonly weeksToTell: number | null;
}

/** Hours of the clock at which standing pressure is usually lowest, [fromHour, toHour); they may go over midnight. */
export interface LowestHours {
  readonly days: 'weekdays' | 'weekend';
  readonly fromHour: number;
  readonly toHour: number;
  /** Median in these hours, and of the hourly medians of the whole day. */
  readonly medianBar: number;
  readonly levelBar: number;
  /** Days that it was seen on. */
  readonly countDays: number;
}

/** The days over one another by the local clock: each day of a log of two months, of a longer one quantiles of days. */
export interface DayOverlays {
  /** Values stand for this many minutes of the clock each, from midnight to midnight. */
  readonly slotMinutes: number;
  /** Days of the log of which anything is known. */
  readonly countDays: number;
  readonly days: readonly {
    readonly day: string;
    /** Monday is 1. Public holidays are not known: they are days of the week like others. */
    readonly weekday: number;
    /** Length of the day: 23 or 25 where the clock changes. */
    readonly hours: number;
    /** Windows in which a sag is present. */
    readonly sags: readonly ('morning' | 'evening')[];
    /** Median of the slot; null where less than half of it is known, or the clock skips it. */
    readonly bar: readonly (number | null)[];
  }[];
  readonly bands: readonly {
    readonly days: 'weekdays' | 'weekend';
    readonly countDays: number;
    readonly saggingDays: number;
    /** Quantiles of the days' medians; null where fewer than five days know the slot. */
    readonly q10: readonly (number | null)[];
    readonly q50: readonly (number | null)[];
    readonly q90: readonly (number | null)[];
  }[];
}

/** Standing pressure by hour of the local week; NaN never occurs, cells without data are null. */
export interface Pattern {
  /** 168 cells, Monday 00 first: quantiles, minutes (points of the grid) and days that are known. */
  readonly hourOfWeek: readonly ({ q10: number; q50: number; q90: number; count: number; days: number } | null)[];
  /** Share of the known time for which standing pressure was at or above each value. */
  readonly durationCurve: readonly { share: number; bar: number }[];
  /** How much of the known time lay below the low-supply threshold. */
  readonly below?: {
    /** At the height of the transducer. */
    readonly thresholdBar: number;
    readonly share: number;
    /** Least and most, were all readings off alike by `sensorBar` (k = 2). */
    readonly shareInterval: readonly [number, number];
    readonly sensorBar: number;
    /** Share of the time for which standing pressure is known. */
    readonly knownFraction: number;
  };
  readonly lowestHours: readonly LowestHours[];
  readonly overlays: DayOverlays;
  /** What there is enough data to draw of. */
  readonly enough: { readonly week: boolean; readonly duration: boolean; readonly overlays: boolean };
}

export interface Evidence {
  /** Statements that can be made now, each with its certainty. */
  readonly statements: readonly { text: string; certainty: Certainty | 'unknown' }[];
  /** What is open and what would settle it. */
  readonly open: readonly string[];
  /** Calendar days after which everything that days can settle is settled; 0 where nothing is left to wait for. */
  readonly moreDays?: number;
  /** Whether the log is long enough, in a sentence. */
  readonly logging?: { readonly longEnough: boolean; readonly text: string };
}

export interface FindingsDocument {
  readonly series: {
    readonly start: string | null;
    readonly end: string | null;
    readonly samples: number;
    readonly intervalS: number | null;
    readonly timeZone: string;
    readonly position: Position;
  };
  readonly standing?: {
    readonly start: string;
    readonly stepS: number;
    readonly bar: readonly (number | null)[];
    readonly sdBar: readonly (number | null)[];
    /** 1 where the point is interpolated through a draw. */
    readonly interpolated?: readonly (0 | 1)[];
  };
  readonly draws: readonly Draw[];
  readonly sags: readonly Sag[];
  readonly lowSupply: readonly LowSupply[];
  readonly pumpStarts: readonly PumpStart[];
  readonly cycling: readonly Cycling[];
  readonly cyclingDays?: readonly CyclingDay[];
  readonly weakInlet: readonly WeakInlet[];
  readonly inletPull?: InletPull;
  readonly pumpStates?: readonly PumpState[];
  readonly pumpTrends?: readonly PumpTrend[];
  readonly pumpLitres?: PumpLitres;
  readonly pumpCurve?: PumpCurveCheck;
  readonly fitting?: FittingFinding;
  readonly faults: readonly Fault[];
  readonly changes: readonly Change[];
  readonly coverage: {
    readonly expected: number;
    readonly received: number;
    readonly validFraction: number;
    readonly days: readonly DayCoverage[];
    /** Why readings are missing though nothing failed, in words. */
    readonly reason?: string;
    /** Spans whose single samples were erased by age: not expected, no gaps; only their minutes are kept. */
    readonly rawErased?: readonly Interval[];
  };
  /** Expanded uncertainty of a reading, k = 2, and how it was made up. */
  readonly sensorUBar: number;
  readonly sensorBudget: readonly { source: string; standardUncertaintyBar: number }[];
  readonly noiseBar?: number;
  readonly quantumBar?: number;
  readonly detectionFloor?: {
    readonly dropBar: number;
    readonly durationS: number;
    readonly note: string;
  };
  /** Loss between street and logger by the household's own metered flow; only where a meter's draws tell it. */
  readonly servicePipe?: ServicePipe;
  readonly thresholds: Thresholds;
  readonly qualifying: {
    readonly occasions: readonly number[];
    readonly pairs: readonly (readonly [number, number])[];
    readonly interpretation: string;
  };
  readonly sagSummary: readonly SagSummary[];
  /** Weekdays against weekends, where a window sagged more than once and both kinds of day were judged. */
  readonly sagComparison?: readonly SagComparison[];
  readonly pattern?: Pattern;
  readonly evidence: Evidence;
  /** What the series could not show, in words. */
  readonly limits: readonly string[];
  readonly versions: { readonly analysis: string };
}
