import type { BodyOf, LoggerResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { figure } from '../format.ts';
import { el } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { controlsByName, Fault, saveForm } from '../parts/form-report.ts';
import { isTouched, showSaved } from '../parts/kept-value.ts';
import type { LoggerForm } from './logger-settings.ts';

type Comparison = BodyOf<'addCalibration'>;

/** Reads the program's value beside a gauge's, at one pressure or two. No stored sample changes. */
export function createCalibrationForm(logger: LoggerResource, onSaved: () => void): LoggerForm {
  if (!logger.channels.some((channel) => channel.channel === 'pressure'))
    return { element: el('p', {}, 'It sends no pressure, so there is nothing to compare.'), update: () => {} };
  const read = numberInput();
  const gauge = numberInput();
  const secondRead = numberInput();
  const secondGauge = numberInput();
  const accuracy = numberInput();
  const note = el('input', { type: 'text', maxlength: 500, autocomplete: 'off' });
  const params = { id: logger.id };
  /** How many comparisons there were when what is shown here was read; unknown until the first is saved. */
  let known: number | undefined;
  void call('listCalibrations', { params }).then(
    (list) => {
      known = list.length;
    },
    () => {},
  );

  function body(): Comparison | Fault {
    const points: Comparison['points'] = [];
    for (const [shown, seen, needed] of [
      [read, gauge, true],
      [secondRead, secondGauge, false],
    ] as const) {
      if (!needed && shown.value.trim() === '' && seen.value.trim() === '') continue;
      const readBar = readNumber(shown);
      const gaugeBar = readNumber(seen);
      if (readBar === undefined || gaugeBar === undefined)
        return new Fault(
          `A comparison reads “${shown.value}” here and “${seen.value}” on the gauge. Enter both in bar, for example 2.41 and 2.50.`,
          readBar === undefined ? shown : seen,
        );
      points.push({ readBar, gaugeBar });
    }
    const limit = readNumber(accuracy);
    if (accuracy.value.trim() !== '' && (limit === undefined || limit <= 0))
      return new Fault(
        `The gauge’s accuracy reads “${accuracy.value}”. Enter bar, for example 0.1, or leave it empty.`,
        accuracy,
      );
    return { points, note: note.value.trim(), ...(limit === undefined ? {} : { gaugeAccuracyBar: limit }) };
  }

  /**
   * What is shown here is read with the comparison in force; were one saved since (on another page, or by this one when
   * its answer was lost), the same figures would correct twice. Undefined: then nothing is sent.
   */
  async function send(comparison: Comparison) {
    const before = await call('listCalibrations', { params });
    const changed = known !== undefined && before.length !== known;
    known = before.length;
    if (changed) return undefined;
    const saved = await call('addCalibration', { params, body: comparison });
    known += 1;
    return saved;
  }

  function update(now: LoggerResource): void {
    const pressure = now.latest.find((sample) => sample.channel === 'pressure');
    const value = pressure?.value ?? undefined;
    // A comparison is being typed: its two values belong together.
    if (!isTouched(gauge) && !isTouched(read)) showSaved(read, value === undefined ? '' : figure(value, 3));
  }
  update(logger);

  const form = saveForm(
    {
      button: 'Save the comparison',
      read: body,
      send,
      done: (saved) => {
        if (saved === undefined)
          return 'Not sent: a comparison was saved since these values were read, and every reading is corrected by it now. Read both again, correct the fields, and save.';
        for (const input of [gauge, secondRead, secondGauge, note]) showSaved(input, '');
        onSaved();
        return `Saved: from now on a reading is multiplied by ${saved.gain.toFixed(4)} and ${figure(saved.offset, 3)}\u00a0bar is added.`;
      },
      controlAt: (place) =>
        /points\.1/.test(place)
          ? secondPoint(place)
          : controlsByName({ readBar: read, points: gauge, gaugeAccuracyBar: accuracy, note })(place),
    },
    el(
      'div',
      { class: 'fields' },
      field(read, { label: 'Shown here, bar' }),
      field(gauge, { label: 'On the gauge, bar' }),
    ),
    el(
      'div',
      { class: 'fields' },
      field(secondRead, { label: 'Second time, shown here, bar' }),
      field(secondGauge, { label: 'on the gauge, bar' }),
    ),
    field(accuracy, {
      label: 'Accuracy of the gauge ±, bar',
      help: 'From its dial: class 1.6 of 10 bar is 0.16. Empty: that is taken.',
    }),
    field(note, { label: 'Note', help: 'Which gauge, who read it.' }),
  );
  function secondPoint(place: string) {
    return /readBar$/.test(place) ? secondRead : secondGauge;
  }

  return {
    element: el(
      'details',
      {},
      el('summary', {}, 'Enter a comparison'),
      el(
        'p',
        {},
        'With no water running, read the gauge and the last value at the same minute. A second comparison at another pressure also corrects the slope; the open air counts as one (0 on the gauge).',
      ),
      el(
        'p',
        { class: 'caution' },
        'Fit the gauge only to a tap or a test point made for it. Do not open a fitting under pressure, and mind hot water.',
      ),
      form,
    ),
    update,
  };
}
