import type { CauseFigure, CauseOdds } from '../findings.ts';

/* What separates the causes of cycling, as figures with the limits they are held against. */

const rounded = (value: number): number => Number(value.toPrecision(4));

/** A figure, or none where it isn't known. */
function figureOf(known: Omit<CauseFigure, 'value'> & { readonly value: number | undefined }): readonly CauseFigure[] {
  const { value, sd, ...rest } = known;
  if (value === undefined || !Number.isFinite(value)) return [];
  return [{ ...rest, value: rounded(value), ...(sd === undefined ? {} : { sd: rounded(sd) }) }];
}

export function bandFigure(bar: number, narrowBar: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'band',
    name: 'Cut-out less cut-in',
    value: bar,
    unit: 'bar',
    limit: narrowBar,
    tells: `under ${narrowBar} bar a switch set too narrow`,
  });
}

export function irregularityFigure(share: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'irregularity',
    name: 'Spread of the periods',
    value: 100 * share,
    unit: '%',
    tells: 'a steady loss makes the pump start like a clock; a household doesn’t',
  });
}

export function fillFigure(ms: number, collapseMs: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'fill',
    name: 'Time on to fill the band with nobody drawing',
    value: ms / 1000,
    unit: 's',
    limit: collapseMs / 1000,
    tells: `at most ${collapseMs / 1000} s a vessel that holds next to nothing`,
  });
}

export function drawnRestFigure(ms: number, collapseMs: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'rest_while_drawn',
    name: 'Time from stop to start while water is drawn',
    value: ms / 1000,
    unit: 's',
    limit: collapseMs / 1000,
    tells: `at most ${collapseMs / 1000} s a vessel that holds next to nothing`,
  });
}

export function swingFigure(barPerS: number, collapseBarPerS: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'swing',
    name: 'How fast the pressure swings',
    value: barPerS,
    unit: 'bar/s',
    limit: collapseBarPerS,
    tells: `from ${collapseBarPerS} bar/s on a vessel that holds next to nothing`,
  });
}

export function targetFigure(bar: number, sdBar: number): readonly CauseFigure[] {
  return figureOf({
    figure: 'falls_towards',
    name: 'With the pump at rest the pressure falls as if towards',
    value: bar,
    sd: sdBar,
    unit: 'bar',
    tells: 'near 0 bar a leak to the air, near the inlet’s pressure a passing check valve',
  });
}

export function inletFigure(bar: number | undefined): readonly CauseFigure[] {
  return figureOf({
    figure: 'inlet',
    name: 'The inlet meanwhile',
    value: bar,
    unit: 'bar',
    tells: 'what a passing check valve lets the pressure fall towards',
  });
}

export function lossByHourFigure(spread: number | undefined): readonly CauseFigure[] {
  return figureOf({
    figure: 'loss_by_hour',
    name: 'How much the loss changes from hour to hour',
    value: spread === undefined ? undefined : 100 * spread,
    unit: '%',
    tells: 'alike at all hours a leak; rising as the main falls a passing check valve',
  });
}

export function drawdownFigure(litres: number | undefined): readonly CauseFigure[] {
  return figureOf({
    figure: 'drawdown',
    name: 'Water that leaves the vessel from one start to the next',
    value: litres,
    unit: 'l',
    tells: 'much less than when it was set up: lost pre-charge, or a switch set too narrow',
  });
}

/** `35 to 1 for a leak` or, under 1, for a check valve; whole numbers, bounded for reading. */
export function oddsWords({ checkValveToLeak }: Pick<CauseOdds, 'checkValveToLeak'>): string {
  const forValve = checkValveToLeak >= 1;
  const odds = forValve ? checkValveToLeak : 1 / checkValveToLeak;
  const figure =
    odds > 1000 ? 'over 1000' : odds < 9.5 ? String(Number(odds.toPrecision(2))) : String(Math.round(odds));
  return `${figure} to 1 for ${forValve ? 'a passing check valve against a leak' : 'a leak against a passing check valve'}`;
}
