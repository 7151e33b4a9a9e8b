import { ApiError } from '../data/api-client.ts';
import { sentence } from '../format.ts';
import { el, replace } from './element.ts';
import { type Control, isControl, isTouched, takeAsSaved } from './kept-value.ts';
import { problemNote, withStop } from './problem-note.ts';

/** What is wrong with what was typed, and where: beside its control, or at the form's foot where no one control is meant. */
export class Fault {
  readonly text: string;
  readonly control: Control | undefined;

  constructor(text: string, control?: Control) {
    this.text = text;
    this.control = control;
  }
}

/** The control for a part of the request that the server refuses, such as `body.vessel.volumeL`, or for a problem's code. */
export type ControlAt = (place: string) => Control | undefined;

/** An answer that takes longer is waited for in words. */
const TOLD_AFTER_MS = 1000;

/** Controls by the last name in the place: `{ volumeL }` is found for `body.vessel.volumeL`. */
export function controlsByName(controls: Readonly<Record<string, Control>>): ControlAt {
  return (place) => {
    const names = place.split('.').reverse();
    const name = names.find((step) => Object.hasOwn(controls, step));
    return name === undefined ? undefined : controls[name];
  };
}

export interface FormReport {
  /** Where what is wrong with no one control, and what was saved, is told. */
  readonly element: HTMLElement;
  wrong(fault: Fault): void;
  /** A button of its own that does one thing. */
  button<Answer>(label: string, action: () => Promise<Answer>, done: (answer: Answer) => void): HTMLElement;
  /** Does something once at a time; tells `done`'s sentence, or what went wrong where it did. */
  attempt<Answer>(action: () => Promise<Answer>, done: (answer: Answer) => string | undefined): Promise<void>;
}

/** Tells how saving went. What was typed always stays. */
export function createFormReport(controlAt: ControlAt = () => undefined): FormReport {
  const problem = el('div');
  const status = el('p', { class: 'quiet', role: 'status' });
  let marked: Control[] = [];
  let busy = false;

  function clear(): void {
    replace(problem);
    status.textContent = '';
    for (const control of marked) unmark(control);
    marked = [];
  }

  function wrong({ text, control }: Fault): void {
    clear();
    if (control) show([[control, text]]);
    else replace(problem, note(text));
  }

  function show(faults: readonly (readonly [Control, string])[]): void {
    for (const [control, text] of faults) {
      mark(control, text);
      marked.push(control);
    }
    reveal(faults[0]![0]);
  }

  function failed(error: unknown): void {
    const { errors, code, message, hint } = error instanceof ApiError ? error : NO_DETAILS;
    const entries =
      errors.length > 0 ? errors : [{ place: code, message: [message, hint].filter(Boolean).map(withStop).join(' ') }];
    const found = entries.map((entry) => [controlAt(entry.place), inPlace(entry.message)] as const);
    const placed = found.filter((entry): entry is readonly [Control, string] => entry[0] !== undefined);
    if (placed.length > 0) show(placed);
    // What has no control of its own would otherwise be told nowhere.
    if (placed.length === 0 || placed.length < found.length) replace(problem, problemNote(error));
  }

  async function attempt<Answer>(
    action: () => Promise<Answer>,
    done: (answer: Answer) => string | undefined,
  ): Promise<void> {
    if (busy) return;
    busy = true;
    clear();
    const waiting = setTimeout(() => {
      status.textContent = 'Waiting for the program’s answer …';
    }, TOLD_AFTER_MS);
    try {
      const answer = await action();
      status.textContent = done(answer) ?? '';
    } catch (error) {
      status.textContent = '';
      failed(error);
    } finally {
      clearTimeout(waiting);
      busy = false;
    }
  }

  return {
    element: el('div', {}, problem, status),
    wrong,
    attempt,
    button(label, action, done) {
      const click = () =>
        void attempt(action, (answer) => {
          done(answer);
          return undefined;
        });
      return el('p', {}, el('button', { type: 'button', class: 'wide', click }, label));
    },
  };
}

/** A form that saves: what is typed is read, sent, and afterwards taken as saved; what went wrong stands where it is. */
export function saveForm<Body, Answer>(
  part: {
    readonly button: string;
    read(): Body | Fault;
    send(body: Body): Promise<Answer>;
    /** What to say of it. */
    done(answer: Answer): string | undefined;
    readonly controlAt?: ControlAt | undefined;
    /** The one action of its page. */
    readonly main?: boolean;
  },
  ...children: Parameters<typeof replace>[1][]
): HTMLFormElement {
  const report = createFormReport(part.controlAt);
  const submit = (event: Event) => {
    event.preventDefault();
    const body = part.read();
    if (body instanceof Fault) {
      report.wrong(body);
      return;
    }
    const sent = [...form.elements].filter(isControl).map((control) => [control, typedIn(control)] as const);
    void report.attempt(
      () => part.send(body),
      (answer) => {
        for (const [control, value] of sent) if (typedIn(control) === value) takeAsSaved(control);
        return part.done(answer);
      },
    );
  };
  const button = el('button', { type: 'submit', class: part.main ? 'main wide' : 'wide' }, part.button);
  const form = el('form', { submit }, ...children, report.element, el('p', {}, button));
  return form;
}

/** Said where nothing was changed since it was saved. */
export const NOTHING_CHANGED = 'Nothing stands here that isn’t saved already.';

export function anyTouched(...controls: readonly Control[]): boolean {
  return controls.some(isTouched);
}

function typedIn(control: Control): string | boolean {
  return control instanceof HTMLInputElement && (control.type === 'radio' || control.type === 'checkbox')
    ? control.checked
    : control.value;
}

function note(text: string, id?: string): HTMLElement {
  return el('p', { class: 'problem', role: 'alert', id }, text);
}

function noteId(control: Control): string {
  return `${control.id}-wrong`;
}

function mark(control: Control, text: string): void {
  const place = control.closest('.curve-row') ?? control.closest('.field') ?? control.parentElement;
  place?.append(note(text, noteId(control)));
  control.setAttribute('aria-invalid', 'true');
  const described = control.getAttribute('aria-describedby');
  control.setAttribute('aria-describedby', [noteId(control), described].filter(Boolean).join(' '));
  control.addEventListener('input', () => unmark(control), { once: true });
}

function unmark(control: Control): void {
  if (!control.hasAttribute('aria-invalid')) return;
  control.removeAttribute('aria-invalid');
  document.getElementById(noteId(control))?.remove();
  const rest = (control.getAttribute('aria-describedby') ?? '').split(' ').filter((id) => id !== noteId(control));
  if (rest.join('') === '') control.removeAttribute('aria-describedby');
  else control.setAttribute('aria-describedby', rest.join(' '));
}

function reveal(control: Control): void {
  for (let outer = control.closest('details'); outer; outer = outer.parentElement?.closest('details') ?? null)
    outer.open = true;
  control.focus();
}

const NO_DETAILS = { errors: [], code: '', message: '', hint: '' };

/** The server names the field before its message; beside the field itself a sentence is enough. */
function inPlace(message: string): string {
  if (/^(must|is|takes) /.test(message)) return sentence(`it ${message}`);
  return sentence(/\b(must|has|is|are|can’t|isn't|doesn't)\b/.test(message) ? message : `wanted: ${message}`);
}
