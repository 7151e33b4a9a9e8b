import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { api } from '../support/api.ts';
import { eventually, type RunningProgram, startProgram } from '../support/program.ts';

interface Findings {
  series: { start: string | null; end: string | null; position: string };
  draws: unknown[];
  sags: { state: string; window: string; day: string }[];
  lowSupply: { certainty: string }[];
  cycling: { kind: string }[];
  pumpStarts: unknown[];
  evidence: { statements: { text: string }[] };
}

let program: RunningProgram;
beforeAll(async () => {
  program = await startProgram({ flags: ['--demo'] });
});
afterAll(async () => {
  expect(await program.stop()).toBe(0);
});

async function sites(): Promise<{ id: string; name: string; invented: boolean }[]> {
  return api(program.base, 'GET', '/api/sites');
}
async function loggers(): Promise<
  { id: string; site: string | null; position: string; lastSample?: { time: string } | null }[]
> {
  return api(program.base, 'GET', '/api/loggers');
}
async function findingsOf(site: string): Promise<Findings> {
  return api(program.base, 'GET', `/api/sites/${site}/findings`);
}

describe('the demo', () => {
  it('holds at least three houses, every one marked as invented', async () => {
    const all = await sites();
    expect(all.length).toBeGreaterThanOrEqual(3);
    for (const site of all) expect(site.invented, site.name).toBe(true);
  });

  it('has at least four weeks of history for every logger that ends about now, and live loggers', async () => {
    for (const logger of await loggers()) {
      const span = (await api<Findings>(program.base, 'GET', `/api/loggers/${logger.id}/findings`)).series;
      expect((Date.parse(span.end!) - Date.parse(span.start!)) / 86_400_000, logger.id).toBeGreaterThanOrEqual(
        28 - 0.01,
      );
      const before = logger.lastSample?.time;
      await eventually(
        async () => (await loggers()).find((entry) => entry.id === logger.id)?.lastSample?.time,
        (time) => time !== undefined && time !== before,
      );
    }
  });

  it('finds what each house was made to show, and nothing at the good one', async () => {
    const all = await Promise.all((await sites()).map(async (site) => ({ site, findings: await findingsOf(site.id) })));
    const certainLow = all.filter(({ findings }) =>
      findings.lowSupply.some((period) => period.certainty === 'certain'),
    );
    expect(certainLow.length, 'a house with low supply').toBeGreaterThanOrEqual(1);
    expect(
      certainLow.some(({ findings }) =>
        findings.sags.some((sag) => sag.state === 'present' && sag.window === 'morning'),
      ),
    ).toBe(true);
    expect(
      all.some(({ findings }) => findings.cycling.some((episode) => episode.kind !== 'normal')),
      'a pump that cycles',
    ).toBe(true);
    const quiet = all.filter(
      ({ findings }) =>
        findings.series.position === 'incoming' &&
        findings.lowSupply.length === 0 &&
        findings.sags.every((sag) => sag.state !== 'present'),
    );
    expect(quiet.length, 'a house with nothing to complain about').toBeGreaterThanOrEqual(1);
    for (const { site, findings } of all) expect(findings.evidence.statements.length, site.name).toBeGreaterThan(0);
  });

  it('writes a letter for every house, as page and as PDF', async () => {
    for (const site of await sites()) {
      const html = await fetch(`${program.base}/api/sites/${site.id}/letter?format=html`);
      expect(html.status, site.name).toBe(200);
      expect(await html.text()).toContain('invented');
      const pdf = await fetch(`${program.base}/api/sites/${site.id}/letter?format=pdf`);
      expect(pdf.status, site.name).toBe(200);
      expect(
        Buffer.from(await pdf.arrayBuffer())
          .subarray(0, 5)
          .toString(),
      ).toBe('%PDF-');
    }
  });

  it('a second server on the same data folder ends with 1 and says which holds it', async () => {
    await expect(startProgram({ folder: program.folder })).rejects.toThrow(new RegExp(`${program.process.pid}`));
  });
});
