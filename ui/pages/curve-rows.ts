import { BAR_PER_METRE_OF_WATER } from '../../collector/model/units.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { Fault } from '../parts/form-report.ts';
import type { Control } from '../parts/kept-value.ts';

export interface CurvePoint {
  readonly flowLpm: number;
  readonly headM: number;
}

interface Row {
  readonly flow: HTMLInputElement;
  readonly lift: HTMLInputElement;
  readonly element: HTMLElement;
  /** What it was made from, to the last digit; the page shows it rounded. */
  readonly from: CurvePoint | undefined;
}

/** A pump's curve has two points at least; the server takes no more than thirty. */
const FEWEST = 2;
const MOST = 30;
/** Thousand metres of head, the server's limit. */
const MOST_LIFT_BAR = 98;

export interface CurveRows {
  readonly element: HTMLElement;
  /** Whether it differs from what is saved. */
  touched(): boolean;
  /** undefined: no curve. */
  read(): readonly CurvePoint[] | undefined | Fault;
  /** What is saved now; left alone while something else is typed, unless it was saved from here. */
  update(saved: readonly CurvePoint[] | undefined, ours: boolean): void;
  /** The control of a point that the server refuses, such as `body.pump.curve.2.flowLpm`. */
  controlAt(place: string): Control | undefined;
}

/** How far the pump lifts at which flow: a row a point, in bar, added and removed by a thumb. */
export function createCurveRows(): CurveRows {
  let saved: readonly CurvePoint[] = [];
  let rows: Row[] = [];
  let sent: Row[] = [];
  const list = el('div', {});
  const add = el('button', { type: 'button', click: () => addRow() }, 'Add a point');

  function createRow(from?: CurvePoint): Row {
    const flow = numberInput(from && shown(from.flowLpm));
    const lift = numberInput(from && shown(from.headM * BAR_PER_METRE_OF_WATER));
    const number = rows.length + 1;
    const row: Row = {
      flow,
      lift,
      from,
      element: el(
        'div',
        { class: 'curve-row', role: 'group', 'aria-label': `Point ${number} of the curve` },
        field(flow, { label: 'Flow, l/min' }),
        field(lift, { label: 'Lift, bar' }),
        el(
          'button',
          { type: 'button', 'aria-label': `Remove point ${number} of the curve`, click: () => remove(row) },
          'Remove',
        ),
      ),
    };
    return row;
  }

  function draw(): void {
    replace(list, ...rows.map((row) => row.element));
    for (const [at, row] of rows.entries()) {
      row.element.setAttribute('aria-label', `Point ${at + 1} of the curve`);
      row.element.querySelector('button')!.setAttribute('aria-label', `Remove point ${at + 1} of the curve`);
    }
    add.hidden = rows.length >= MOST;
    add.textContent = rows.length === 0 ? 'Enter the curve' : 'Add a point';
  }

  /** Two at first, because one point is no curve. */
  function addRow(): void {
    const first = createRow();
    rows.push(first);
    if (rows.length < FEWEST) rows.push(createRow());
    draw();
    first.flow.focus();
  }

  function remove(row: Row): void {
    const at = rows.indexOf(row);
    rows = rows.filter((other) => other !== row);
    draw();
    (rows[Math.min(at, rows.length - 1)]?.element.querySelector('button') ?? add).focus();
  }

  function isUnchanged(row: Row): row is Row & { from: CurvePoint } {
    return (
      row.from !== undefined && row.flow.value === row.flow.defaultValue && row.lift.value === row.lift.defaultValue
    );
  }

  function touched(): boolean {
    const typed = rows.filter((row) => !isEmpty(row));
    return typed.length !== saved.length || typed.some((row, at) => !isUnchanged(row) || !isSame(row.from, saved[at]));
  }

  function read(): readonly CurvePoint[] | undefined | Fault {
    const points: { row: Row; point: CurvePoint }[] = [];
    for (const row of rows) {
      if (isEmpty(row)) continue;
      const flowLpm = readNumber(row.flow);
      const liftBar = readNumber(row.lift);
      if (flowLpm === undefined || flowLpm < 0) return wrongNumber(row.flow, 'The flow', 'l/min, for example 12');
      if (liftBar === undefined || liftBar < 0) return wrongNumber(row.lift, 'The lift', 'bar, for example 2.4');
      if (liftBar > MOST_LIFT_BAR)
        return new Fault(`The lift reads “${row.lift.value}”. No more than ${MOST_LIFT_BAR} bar is taken.`, row.lift);
      points.push({ row, point: isUnchanged(row) ? row.from : { flowLpm, headM: liftBar / BAR_PER_METRE_OF_WATER } });
    }
    points.sort((one, other) => one.point.flowLpm - other.point.flowLpm);
    const twice = points.find(({ point }, at) => at > 0 && point.flowLpm === points[at - 1]!.point.flowLpm);
    if (twice) return new Fault('This flow stands there twice. Each point needs a flow of its own.', twice.row.flow);
    if (points.length > 0 && points.length < FEWEST)
      return new Fault('One point is no curve. Enter a second one, or remove it.', points[0]!.row.flow);
    sent = points.map(({ row }) => row);
    return points.length === 0 ? undefined : points.map(({ point }) => point);
  }

  draw();
  return {
    element: el(
      'fieldset',
      {},
      el('legend', {}, 'Its curve'),
      el(
        'p',
        { class: 'help' },
        'From its data sheet: how far it lifts at which flow, two points or more. Ten metres of head are 0.98 bar.',
      ),
      list,
      el('p', {}, add),
    ),
    touched,
    read,
    update(now, ours) {
      const stays = !ours && (touched() || isSameCurve(now ?? [], saved));
      saved = now ?? [];
      if (stays) return;
      rows = [];
      for (const point of saved) rows.push(createRow(point));
      draw();
    },
    controlAt(place) {
      const [, at, name] = /\bcurve\.(\d+)\.(\w+)$/.exec(place) ?? [];
      if (at === undefined) return /\bcurve\b/.test(place) ? rows[0]?.flow : undefined;
      const row = sent[Number(at)];
      return name === 'headM' ? row?.lift : row?.flow;
    },
  };
}

function isSame(one: CurvePoint, other: CurvePoint | undefined): boolean {
  return one.flowLpm === other?.flowLpm && one.headM === other.headM;
}

function isSameCurve(one: readonly CurvePoint[], other: readonly CurvePoint[]): boolean {
  return one.length === other.length && one.every((point, at) => isSame(point, other[at]));
}

function isEmpty(row: Row): boolean {
  return row.flow.value.trim() === '' && row.lift.value.trim() === '';
}

function wrongNumber(control: HTMLInputElement, what: string, wanted: string): Fault {
  return new Fault(`${what} reads “${control.value}”. Enter ${wanted}.`, control);
}

/** To a thousandth: finer than any data sheet. */
function shown(value: number): string {
  return String(Math.round(value * 1000) / 1000);
}
