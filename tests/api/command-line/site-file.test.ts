import { describe, expect, it } from 'vitest';
import { parseSite, readSiteFile } from '../../../api/command-line/site-file.ts';
import { Problem } from '../../../collector/model/problem.ts';
import { problemOf } from '../../collector/csv/csv-support.ts';

const DEFAULTS = {
  timeZone: 'Europe/London',
  intervalS: undefined,
  sensor: {
    position: 'incoming',
    rangeBar: [0, 10],
    accuracyBar: undefined,
    calibrationStandardUncertaintyBar: undefined,
    heightAboveSupplyPointM: 0,
  },
  hasFlowMeter: false,
  thresholds: { lowSupplyBar: 0.7, weakInletBar: 0.3, sagMinDepthBar: 0.3 },
};

function problem(text: string): Problem {
  try {
    parseSite(text);
  } catch (error) {
    if (error instanceof Problem) return error;
    throw error;
  }
  throw new Error('expected a Problem');
}

describe('SITE.json', () => {
  it('needs a time zone only; the rest has the documented defaults, and unknown keys are ignored', () => {
    expect(parseSite('{"timeZone": "Europe/London"}')).toEqual(DEFAULTS);
    expect(
      parseSite(
        '{"timeZone": "Europe/London", "flowMeter": null, "sensor": null, "colour": "blue", "thresholds": {"x": 1}}',
      ),
    ).toEqual(DEFAULTS);
  });

  it('is read in full', () => {
    const full = {
      timeZone: 'Europe/Berlin',
      intervalS: 10,
      sensor: { position: 'pump_outlet', rangeBar: [0, 16], accuracyBar: 0.1, heightAboveSupplyPointM: -0.5 },
      flowMeter: { meters: 'household draw only', value: 'mean over the interval ending at time' },
      thresholds: { lowSupplyBar: 1, weakInletBar: 0.5, sagMinDepthBar: 0.2 },
    };
    expect(parseSite(JSON.stringify(full))).toEqual({
      timeZone: 'Europe/Berlin',
      intervalS: 10,
      sensor: { ...full.sensor, calibrationStandardUncertaintyBar: undefined },
      hasFlowMeter: true,
      meters: 'household',
      thresholds: full.thresholds,
    });
  });

  it('says where a flow meter sits, and makes nothing of other words', () => {
    const meters = (words: unknown) =>
      parseSite(JSON.stringify({ timeZone: 'Europe/London', flowMeter: { meters: words } })).meters;
    expect(meters('pump only')).toBe('pump');
    expect(meters('what the pump delivers to its vessel')).toBe('pump');
    expect(meters('household draw only')).toBe('household');
    expect(meters('household draw, behind the pump')).toBe('household');
    expect(meters('the garden')).toBeUndefined();
    expect(meters(null)).toBeUndefined();
    expect(problem('{"timeZone": "Europe/London", "flowMeter": {"meters": 3}}').message).toContain(
      'flowMeter.meters is 3; valid: "household draw only" or "pump only"',
    );
  });

  it('says what is known of a pump and of a fitting, heads in bar and times in milliseconds', () => {
    const site = parseSite(
      JSON.stringify({
        timeZone: 'Europe/London',
        pump: {
          allowedHours: [22, 6],
          mostStartsPerHour: 20,
          startsLimitSource: 'nameplate',
          curve: [
            { flowLpm: 0, headM: 20 },
            { flowLpm: 24, headM: 8 },
          ],
        },
        fitted: '2026-05-12T10:00:00Z',
        outletReadings: [{ outlet: 'bath', time: '2026-05-11T09:00:00Z', flowLpm: 6.5 }],
      }),
    );
    expect(site.pump).toMatchObject({ allowedHours: [22, 6], mostStartsPerHour: 20, startsLimitSource: 'nameplate' });
    // A metre of water is 0.0980665 bar (standard gravity, 1000 kg/m³).
    expect(site.pump!.curve![0]!.headBar).toBeCloseTo(1.96133, 10);
    expect(site.fittedMs).toBe(Date.UTC(2026, 4, 12, 10));
    expect(site.outletReadings).toEqual([{ outlet: 'bath', atMs: Date.UTC(2026, 4, 11, 9), flowLpm: 6.5 }]);
    const wrong = problem('{"timeZone": "Europe/London", "pump": {"allowedHours": [6]}, "fitted": "soon"}');
    expect(wrong.message).toMatch(/pump\.allowedHours is .*valid: \[6, 22\]/);
    expect(wrong.message).toMatch(/fitted is .*valid: "2026-05-12T10:00:00Z"/);
  });

  it('tells all wrong settings together, each with its value and a valid example', () => {
    const { code, message } = problem(
      '{"timeZone": "Middle/Earth", "intervalS": -1, "sensor": {"position": "roof", "rangeBar": [10, 0]}, "thresholds": {"lowSupplyBar": "low"}}',
    );
    expect(code).toBe('site_file_wrong');
    for (const words of [
      'timeZone is "Middle/Earth"; valid: "Europe/London"',
      'intervalS is -1; valid: 1',
      'sensor.position is "roof"; valid: "incoming" or "pump_inlet" or "pump_outlet"',
      'sensor.rangeBar is [10,0]; valid: [0, 10]',
      'thresholds.lowSupplyBar is "low"; valid: 0.7',
    ]) {
      expect(message).toContain(words);
    }
  });

  it.each([
    ['{}', 'timeZone is missing'],
    ['[]', 'the document is []'],
    ['null', 'the document is null'],
    ['{"timeZone": ', 'is no JSON'],
  ])('%s is refused: %s', (text, words) => {
    expect(problem(text).message).toContain(words);
  });

  it('that is missing is told', async () => {
    expect((await problemOf(readSiteFile('/nowhere/site.json'))).code).toBe('unreadable_file');
  });
});
