import { readFile, stat } from 'node:fs/promises';
import { z } from 'zod';
import { excerpt } from '../../collector/csv/excerpt.ts';
import { POSITIONS } from '../../collector/model/channel.ts';
import { parseRfc3339 } from '../../collector/model/instant.ts';
import { isTimeZone } from '../../collector/model/local-time.ts';
import { Problem } from '../../collector/model/problem.ts';
import { DEFAULT_THRESHOLDS } from '../../collector/model/site.ts';
import type { AnalysisSite } from '../analysis/findings.ts';
import * as part from '../contract/pump-parts.ts';
import { curveInBar } from '../contract/pump-parts.ts';

/** SITE.json is a page of settings; whatever is larger is another file given by mistake. */
const MAX_SITE_BYTES = 1_048_576;
/** The commonest transducer in a house: 0 to 10 bar gauge. Common practice, no source. */
const DEFAULT_RANGE_BAR: readonly [number, number] = [0, 10];

/** A few words. */
const METERS_LIMIT = 200;

/** For each setting an example that is valid, shown beside a wrong one. */
const EXAMPLES: Readonly<Record<string, string>> = {
  timeZone: '"Europe/London"',
  intervalS: '1, or leave it out to have it found from the data',
  sensor: '{"position": "incoming", "rangeBar": [0, 10]}',
  'sensor.position': POSITIONS.map((position) => `"${position}"`).join(' or '),
  'sensor.rangeBar': '[0, 10]',
  'sensor.accuracyBar': '0.1',
  'sensor.calibrationStandardUncertaintyBar': '0.02',
  'sensor.heightAboveSupplyPointM': '0.6',
  flowMeter: 'null, or {"meters": "household draw only"}, or {"meters": "pump only"}',
  'flowMeter.meters': '"household draw only" or "pump only"',
  thresholds: '{"lowSupplyBar": 0.7}',
  'thresholds.lowSupplyBar': '0.7',
  'thresholds.weakInletBar': '0.3',
  'thresholds.sagMinDepthBar': '0.3',
  pump: '{"allowedHours": [6, 22], "mostStartsPerHour": 20}',
  'pump.allowedHours': '[6, 22]',
  'pump.mostStartsPerHour': '11.5, from the nameplate (NEMA MG 10 for a 2-pole motor of 2 hp)',
  'pump.startsLimitSource': '"nameplate", or "NEMA MG 10, 2-pole, 2 hp"',
  'pump.usableLitres': '2.4',
  'pump.vessel': '{"volumeL": 8, "preChargeBar": 1.8}',
  'pump.curve': '[{"flowLpm": 0, "headM": 24}, {"flowLpm": 24, "headM": 8}]',
  fitted: '"2026-05-12T10:00:00Z"',
  outletReadings: '[{"outlet": "kitchen tap", "time": "2026-05-11T09:00:00Z", "flowLpm": 6.5}]',
};

const bar = z.number().gte(-1).lte(1000);
/** `null` means the same as leaving a setting out. */
const orMissing = <S extends z.ZodType>(schema: S) => schema.nullish().transform((value) => value ?? undefined);

const time = z
  .string()
  .max(40)
  .transform((text, context) => {
    const atMs = parseRfc3339(text);
    if (atMs === undefined) context.addIssue({ code: 'custom', message: 'is no RFC 3339 time' });
    return atMs ?? 0;
  });

const siteFile = z.object({
  timeZone: z.string().refine(isTimeZone, 'is no IANA time zone'),
  intervalS: orMissing(z.number().positive().lte(86_400)),
  sensor: orMissing(
    z.object({
      position: orMissing(z.enum(POSITIONS)),
      rangeBar: orMissing(z.tuple([bar, bar]).refine(([low, high]) => low < high, 'has its lower end first')),
      accuracyBar: orMissing(z.number().positive().lte(100)),
      calibrationStandardUncertaintyBar: orMissing(z.number().positive().lte(100)),
      heightAboveSupplyPointM: orMissing(z.number().gte(-1000).lte(1000)),
    }),
  ),
  flowMeter: orMissing(z.object({ meters: orMissing(z.string().max(METERS_LIMIT)) })),
  thresholds: orMissing(
    z.object({
      lowSupplyBar: orMissing(z.number().positive().lte(100)),
      weakInletBar: orMissing(z.number().positive().lte(100)),
      sagMinDepthBar: orMissing(z.number().positive().lte(100)),
    }),
  ),
  pump: orMissing(
    z.object({
      allowedHours: orMissing(part.allowedHours),
      mostStartsPerHour: orMissing(part.mostStartsPerHour),
      startsLimitSource: orMissing(part.startsLimitSource),
      usableLitres: orMissing(part.usableLitres),
      vessel: orMissing(part.vessel),
      curve: orMissing(part.pumpCurve),
    }),
  ),
  fitted: orMissing(time),
  outletReadings: orMissing(z.array(part.outletReading.extend({ time })).max(part.OUTLET_READINGS_LIMIT)),
});

/** Reads SITE.json. Throws `unreadable_file` where it can't be opened, else as `parseSite`. */
export async function readSiteFile(path: string): Promise<AnalysisSite> {
  let text: string;
  try {
    const { size } = await stat(path);
    if (size > MAX_SITE_BYTES) throw siteProblem(`${excerpt(path)} has ${size} bytes: it is no SITE.json`);
    text = await readFile(path, 'utf8');
  } catch (error) {
    if (error instanceof Problem) throw error;
    const { code, message } = error as NodeJS.ErrnoException;
    throw new Problem(
      'unreadable_file',
      `The file ${excerpt(path)} can't be read (${code ?? message}).`,
      'Check the name and that you may read it.',
      { cause: error },
    );
  }
  return parseSite(text);
}

/**
 * SITE.json with the defaults of what is missing; unknown keys are ignored. Throws `site_file_wrong` that tells all
 * wrong settings together, each with its value and a valid example.
 */
export function parseSite(text: string): AnalysisSite {
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\uFEFF/, ''));
  } catch (error) {
    throw siteProblem(`SITE.json is no JSON: ${(error as Error).message}`);
  }
  const parsed = siteFile.safeParse(json);
  if (!parsed.success) {
    const wrong = parsed.error.issues.map((issue) => wrongSetting(json, issue));
    throw siteProblem(`SITE.json can't be used as it is: ${[...new Set(wrong)].join('; ')}`);
  }
  const { timeZone, intervalS, sensor, flowMeter, thresholds, pump, fitted, outletReadings } = parsed.data;
  return {
    timeZone,
    intervalS,
    sensor: {
      position: sensor?.position ?? 'incoming',
      rangeBar: sensor?.rangeBar ?? DEFAULT_RANGE_BAR,
      accuracyBar: sensor?.accuracyBar,
      calibrationStandardUncertaintyBar: sensor?.calibrationStandardUncertaintyBar,
      heightAboveSupplyPointM: sensor?.heightAboveSupplyPointM ?? 0,
    },
    hasFlowMeter: flowMeter !== undefined,
    ...metersOf(flowMeter?.meters),
    thresholds: {
      lowSupplyBar: thresholds?.lowSupplyBar ?? DEFAULT_THRESHOLDS.lowSupplyBar,
      weakInletBar: thresholds?.weakInletBar ?? DEFAULT_THRESHOLDS.weakInletBar,
      sagMinDepthBar: thresholds?.sagMinDepthBar ?? DEFAULT_THRESHOLDS.sagMinDepthBar,
    },
    ...(pump === undefined ? {} : { pump: { ...pump, curve: pump.curve && curveInBar(pump.curve) } }),
    ...(fitted === undefined ? {} : { fittedMs: fitted }),
    ...(outletReadings === undefined
      ? {}
      : { outletReadings: outletReadings.map(({ time: atMs, ...reading }) => ({ ...reading, atMs })) }),
  };
}

/** What the meter's words say: nothing is made of words that name neither the pump nor the household. */
function metersOf(words: string | undefined): Pick<AnalysisSite, 'meters'> {
  if (words === undefined) return {};
  if (/\bhousehold|\bdraws?\b/i.test(words)) return { meters: 'household' };
  return /\bpump/i.test(words) ? { meters: 'pump' } : {};
}

function wrongSetting(json: unknown, issue: z.core.$ZodIssue): string {
  const path = issue.path.filter((part) => typeof part === 'string');
  const name = path.join('.') || 'the document';
  let value = json;
  for (const part of path) value = (value as Record<string, unknown> | null)?.[part];
  const seen = value === undefined ? 'is missing' : `is ${excerpt(JSON.stringify(value)).slice(1, -1)}`;
  return `${name} ${seen}; valid: ${EXAMPLES[path.join('.')] ?? '{"timeZone": "Europe/London"}'}`;
}

function siteProblem(message: string): Problem {
  return new Problem(
    'site_file_wrong',
    `${message}.`,
    'Only timeZone is needed: {"timeZone": "Europe/London"}. Everything else has a default.',
  );
}
