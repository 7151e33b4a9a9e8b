import { describe, expect, it } from 'vitest';
import type { AnalysisSite } from '../../../../api/analysis/findings.ts';
import { findPump } from '../../../../api/analysis/pump/pump-findings.ts';
import { boosterHouse, type HouseOptions } from './booster-house.ts';
import { OUTLET_SITE } from './pump-ruler.ts';

/*
 * An 8 l vessel with 1.8 bar of pre-charge between 2.0 and 3.5 bar gives 2.4824 l: Boyle's law in absolute pressures,
 * 8 × 2.81325 × (1/3.01325 − 1/4.51325), standard atmosphere 1.01325 bar. The house's pipes give another 0.015 l.
 */
const USABLE_L = 2.4824;
const VESSEL = { volumeL: 8, preChargeBar: 1.8 };

function found(options: HouseOptions, site: AnalysisSite, withFlow: boolean) {
  const log = boosterHouse(options);
  return findPump({
    timeMs: log.timeMs,
    pressureBar: log.pressureBar,
    ...(withFlow ? { flowLpm: log.flowLpm } : {}),
    site,
    intervalS: 1,
    noiseBar: 0.005,
    quantumBar: 0.001,
  });
}

describe('litres of a vessel and its leak', () => {
  it('follow from the vessel’s own figures by Boyle’s law', () => {
    const { litres } = found({ days: 1 }, { ...OUTLET_SITE, pump: { vessel: VESSEL } }, false);
    expect(litres!.usable!.from).toBe('boyle');
    // Cut-out as read includes what the pump overshoots while it spins down.
    expect(litres!.usable!.litres / USABLE_L).toBeGreaterThan(0.95);
    expect(litres!.usable!.litres / USABLE_L).toBeLessThan(1.12);
  });

  it('are calibrated by a flow channel, and by a bucket before it', () => {
    const metered = found({ days: 2 }, OUTLET_SITE, true).litres!.usable!;
    expect(metered.from).toBe('flow_channel');
    expect(metered.litres / USABLE_L).toBeGreaterThan(0.92);
    expect(metered.litres / USABLE_L).toBeLessThan(1.15);
    const site = { ...OUTLET_SITE, pump: { usableLitres: 2.5, vessel: VESSEL } };
    expect(found({ days: 1 }, site, true).litres!.usable).toMatchObject({ from: 'bucket', litres: 2.5 });
  });

  it.each([0.05, 0.2, 0.5])('tell a leak of %f l/min at 1 bar within a tenth, its interval over it', (leakLpm) => {
    const site = { ...OUTLET_SITE, pump: { usableLitres: USABLE_L } };
    const { loss } = found({ days: 2, leakLpm }, site, false).litres!;
    // Torricelli over the band: the mean of √p from 2 to 3.5 bar by Simpson's rule is 1.655.
    const wanted = 1.655 * leakLpm;
    expect(Math.abs(loss!.lpm / wanted - 1), `${loss!.lpm} of ${wanted}`).toBeLessThan(0.1);
    expect(loss!.interval[0]).toBeLessThan(wanted);
    expect(loss!.interval[1]).toBeGreaterThan(wanted);
  });

  it('are not guessed without a bucket, a meter or a vessel’s figures', () => {
    expect(found({ days: 1, leakLpm: 0.2 }, OUTLET_SITE, false).litres).toBeUndefined();
  });
});
