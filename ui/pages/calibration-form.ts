import type { BodyOf, LoggerResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { figure } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';

/** Reads the program's value beside a gauge's, at one pressure or two. No stored sample changes. */
export function createCalibrationForm(logger: LoggerResource, onSaved: () => void): HTMLElement {
  const pressure = logger.latest.find((sample) => sample.channel === 'pressure');
  if (!logger.channels.some((channel) => channel.channel === 'pressure'))
    return el('p', {}, 'It sends no pressure, so there is nothing to compare.');
  const read = numberInput(pressure?.value === null || pressure === undefined ? undefined : figure(pressure.value, 3));
  const gauge = numberInput();
  const secondRead = numberInput();
  const secondGauge = numberInput();
  const accuracy = numberInput();
  const note = el('input', { type: 'text', maxlength: 500, autocomplete: 'off' });
  const problem = el('div');

  function body(): BodyOf<'addCalibration'> | string {
    const points: BodyOf<'addCalibration'>['points'] = [];
    for (const [shown, seen, needed] of [
      [read, gauge, true],
      [secondRead, secondGauge, false],
    ] as const) {
      if (!needed && shown.value.trim() === '' && seen.value.trim() === '') continue;
      const readBar = readNumber(shown);
      const gaugeBar = readNumber(seen);
      if (readBar === undefined || gaugeBar === undefined)
        return `A comparison reads “${shown.value}” here and “${seen.value}” on the gauge. Enter both in bar, for example 2.41 and 2.50.`;
      points.push({ readBar, gaugeBar });
    }
    const limit = readNumber(accuracy);
    if (accuracy.value.trim() !== '' && (limit === undefined || limit <= 0))
      return `The gauge’s accuracy reads “${accuracy.value}”. Enter bar, for example 0.1, or leave it empty.`;
    return { points, note: note.value.trim(), ...(limit === undefined ? {} : { gaugeAccuracyBar: limit }) };
  }

  async function submit(event: Event): Promise<void> {
    event.preventDefault();
    const checked = body();
    if (typeof checked === 'string') {
      replace(problem, el('p', { class: 'problem', role: 'alert' }, checked));
      return;
    }
    try {
      const saved = await call('addCalibration', { params: { id: logger.id }, body: checked });
      replace(
        problem,
        el(
          'p',
          { role: 'status' },
          `Saved: from now on a reading is multiplied by ${saved.gain.toFixed(4)} and ${figure(saved.offset, 3)}\u00a0bar is added.`,
        ),
      );
      onSaved();
    } catch (error) {
      replace(problem, problemNote(error));
    }
  }

  return el(
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
    el(
      'form',
      { submit: (event) => void submit(event) },
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
      problem,
      el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Save the comparison')),
    ),
  );
}
