import type { AnalysisSite, Evidence } from '../findings.ts';
import type { CleanSeries } from '../quality/clean-series.ts';
import { sentence } from './wording.ts';

/** Fewer usable readings than this make no series. */
const FEWEST_READINGS = 2;

/** What is to be said of a log without usable readings: that nothing can be told, and why. Undefined where there are some. */
export function nothingKnown(series: CleanSeries, site: AnalysisSite): Evidence | undefined {
  const samples = series.timeMs.length;
  const usable = series.pressureBar.reduce((count, bar) => count + (Number.isNaN(bar) ? 0 : 1), 0);
  if (usable >= FEWEST_READINGS) return undefined;
  if (samples === 0) {
    const why = site.rawErased?.length ? 'no single readings of it are kept' : 'it holds no readings';
    return evidence(`Nothing can be said of this span: ${why}`, 'Begin to log');
  }
  const count = samples.toLocaleString('en-GB');
  const unusable =
    samples === 1 && usable === 1
      ? 'there is one reading only'
      : `${usable === 0 ? 'none' : 'only one'} of ${count} ${samples === 1 ? 'reading' : 'readings'} can be used`;
  const beyond = series.faults.reduce(
    (sum, { kind, count: rows }) => sum + (kind === 'out_of_range' ? (rows ?? 1) : 0),
    0,
  );
  const [low, high] = site.sensor.rangeBar;
  const remedies: string[] = [];
  const reasons: string[] = [];
  if (beyond > 0) {
    reasons.push(
      `${beyond === samples ? 'all' : beyond.toLocaleString('en-GB')} lie outside the sensor’s range of ${low} to ${high} bar`,
    );
    remedies.push('check the range that is set, the unit and the wiring');
  }
  if (beyond + usable < samples) {
    reasons.push(`${beyond > 0 ? 'the others' : 'they'} hold no value or none that can be trusted`);
    remedies.push('see what the logger sends');
  }
  const why = reasons.length > 0 ? `: ${reasons.join(', ')}` : '';
  return evidence(
    `Nothing can be told yet, since ${unusable}${why}`,
    remedies.length > 0 ? sentence(remedies.join(', and ')) : 'Let the logger go on',
  );
}

function evidence(text: string, remedy: string): Evidence {
  return {
    statements: [{ text: `${text}.`, certainty: 'unknown' }],
    open: [`${remedy}: everything is open until there are readings that can be used.`],
    logging: { longEnough: false, text: 'There are no readings yet that could settle anything.' },
  };
}
