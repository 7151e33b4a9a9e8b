import { el } from './element.ts';

export interface FieldOptions {
  readonly label: string;
  /** Shown under the label: what to enter, with an example. */
  readonly help?: string | undefined;
}

let nextId = 0;

/** A labelled control with its explanation tied to it for screen readers. */
export function field<E extends HTMLElement>(control: E, { label, help }: FieldOptions): HTMLElement {
  nextId += 1;
  const id = `field-${nextId}`;
  control.id = id;
  if (help) control.setAttribute('aria-describedby', `${id}-help`);
  return el(
    'div',
    { class: 'field' },
    el('label', { for: id }, label),
    help !== undefined && el('p', { class: 'help', id: `${id}-help` }, help),
    control,
  );
}

/** A number typed as people type it (a comma is a decimal point too); undefined where it is none. */
export function readNumber(input: HTMLInputElement): number | undefined {
  const text = input.value.trim().replace(',', '.').replace('\u2212', '-');
  if (!/^[-+]?(\d+(\.\d*)?|\.\d+)$/.test(text)) return undefined;
  return Number(text);
}

export function numberInput(value?: number | string): HTMLInputElement {
  return el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', value, class: 'short' });
}

export interface Choice<T extends string> {
  readonly value: T;
  readonly label: string;
  readonly help?: string | undefined;
}

/** One of a few, each with its explanation beside it: radio buttons in a named group. */
export function choices<T extends string>(
  legend: string,
  options: readonly Choice<T>[],
  chosen: T | undefined,
  onChoice: (value: T) => void,
): HTMLElement {
  nextId += 1;
  const name = `choice-${nextId}`;
  return el(
    'fieldset',
    {},
    el('legend', {}, legend),
    ...options.map((option) =>
      el(
        'label',
        { class: 'choice' },
        el('input', {
          type: 'radio',
          name,
          value: option.value,
          checked: option.value === chosen,
          change: () => onChoice(option.value),
        }),
        el('span', {}, option.label, option.help ? el('small', {}, option.help) : ''),
      ),
    ),
  );
}
