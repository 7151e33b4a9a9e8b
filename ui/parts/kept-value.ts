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

/** Whether something else stands there than what was saved last. */
export function isTouched(control: Control): boolean {
  if (control instanceof HTMLSelectElement) return control.value !== savedChoice(control);
  if (control instanceof HTMLInputElement) {
    if (control.type === 'radio' || control.type === 'checkbox') return control.checked !== control.defaultChecked;
    if (control.type === 'file') return (control.files?.length ?? 0) > 0;
  }
  return control.value !== control.defaultValue;
}

/** Shows what is saved now; what was typed since the last time stays. */
export function showSaved(control: Control, saved: string): void {
  const touched = isTouched(control);
  const typed = control.value;
  if (control instanceof HTMLSelectElement)
    for (const option of control.options) option.defaultSelected = option.value === saved;
  else if (control instanceof HTMLInputElement && (control.type === 'radio' || control.type === 'checkbox'))
    control.defaultChecked = control.type === 'radio' ? control.value === saved : saved !== '';
  else control.defaultValue = saved;
  if (control instanceof HTMLInputElement && (control.type === 'radio' || control.type === 'checkbox')) {
    if (!touched) control.checked = control.defaultChecked;
  } else control.value = touched ? typed : saved;
}

/** What stands there now is what is saved. */
export function takeAsSaved(control: Control): void {
  if (control instanceof HTMLSelectElement) showSaved(control, control.value);
  else if (control instanceof HTMLInputElement && (control.type === 'radio' || control.type === 'checkbox'))
    control.defaultChecked = control.checked;
  else if (!(control instanceof HTMLInputElement && control.type === 'file')) control.defaultValue = control.value;
}

/** Whether anything below `place` would be lost with it. */
export function holdsTyping(place: Element): boolean {
  return [...place.querySelectorAll('input, select, textarea')].some((entry) => isControl(entry) && isTouched(entry));
}

/** Without a chosen default a select shows its first option. */
function savedChoice(select: HTMLSelectElement): string {
  const chosen = [...select.options].find((option) => option.defaultSelected) ?? select.options[0];
  return chosen?.value ?? '';
}
