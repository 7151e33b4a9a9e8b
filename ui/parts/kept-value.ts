import { el } from './element.ts';

/*
 * What was saved last stands in a control as its default, where HTML keeps it; what was typed since is its value. So a
 * form can be brought up to date while somebody types in it, and sends only what was changed there.
 */

export type Control = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;

export function isControl(element: unknown): element is Control {
  return (
    element instanceof HTMLInputElement ||
    element instanceof HTMLSelectElement ||
    element instanceof HTMLTextAreaElement
  );
}

/** A round button or a box to tick: what it holds is whether it is on. */
function isBox(control: Control): control is HTMLInputElement & { type: 'radio' | 'checkbox' } {
  return control instanceof HTMLInputElement && (control.type === 'radio' || control.type === 'checkbox');
}

/** Whether something else stands there than what was saved last. */
export function isTouched(control: Control): boolean {
  if (control instanceof HTMLSelectElement) return control.value !== savedChoice(control);
  if (control instanceof HTMLInputElement) {
    if (isBox(control)) return control.checked !== control.defaultChecked;
    if (control.type === 'file') return (control.files?.length ?? 0) > 0;
  }
  return control.value !== control.defaultValue;
}

/** Shows what is saved now; what was typed since the last time stays. */
export function showSaved(control: Control, saved: string): void {
  const touched = isTouched(control);
  tellOther(control, touched && savedIn(control) !== saved && !isSameTyped(control.value, saved) ? saved : undefined);
  const typed = control.value;
  if (control instanceof HTMLSelectElement)
    for (const option of control.options) option.defaultSelected = option.value === saved;
  else if (isBox(control)) control.defaultChecked = control.type === 'radio' ? control.value === saved : saved !== '';
  else control.defaultValue = saved;
  if (isBox(control)) {
    if (!touched) control.checked = control.defaultChecked;
  } else control.value = touched ? typed : saved;
}

/** What stands there now is what is saved. */
export function takeAsSaved(control: Control): void {
  if (control instanceof HTMLSelectElement) showSaved(control, control.value);
  else if (isBox(control)) control.defaultChecked = control.checked;
  else if (!(control instanceof HTMLInputElement && control.type === 'file')) control.defaultValue = control.value;
}

/** Whether anything below `place` would be lost with it. */
export function holdsTyping(place: Element): boolean {
  return [...place.querySelectorAll('input, select, textarea')].some((entry) => isControl(entry) && isTouched(entry));
}

/** What was saved before; of a box or a round button nothing is told. */
function savedIn(control: Control): string | undefined {
  if (control instanceof HTMLSelectElement) return savedChoice(control);
  return isBox(control) ? undefined : control.defaultValue;
}

/** As people type a number: a comma is a decimal point too. */
function isSameTyped(typed: string, saved: string): boolean {
  return typed.trim().replace(',', '.') === saved;
}

/** Says below a control in which something else is being typed that another page saved `saved`; undefined: no longer. */
function tellOther(control: Control, saved: string | undefined): void {
  const place = control.closest('.field');
  const there = place?.querySelector('.saved-elsewhere');
  if (saved === undefined || !place) {
    if (saved === undefined && !isTouched(control)) there?.remove();
    return;
  }
  const words = `Another page saved “${saved}” here meanwhile. Saving replaces it by what stands above.`;
  if (there) there.textContent = words;
  else place.append(el('p', { class: 'help saved-elsewhere', role: 'status' }, words));
}

/** Without a chosen default a select shows its first option. */
function savedChoice(select: HTMLSelectElement): string {
  const chosen = [...select.options].find((option) => option.defaultSelected) ?? select.options[0];
  return chosen?.value ?? '';
}
