import { el } from './element.ts';

/** A line of text to copy, with its button; where the browser forbids copying the text is selected instead. */
export function copyLine(text: string, what: string): HTMLElement {
  const code = el('code', { tabindex: '0' }, text);
  const status = el('span', { role: 'status', class: 'quiet' });
  const button = el(
    'button',
    {
      type: 'button',
      click: async () => {
        try {
          await navigator.clipboard.writeText(text);
          status.textContent = 'Copied.';
        } catch {
          getSelection()?.selectAllChildren(code);
          status.textContent = 'Selected: copy it with the keyboard or the long touch.';
        }
      },
    },
    `Copy ${what}`,
  );
  return el('div', { class: 'copy' }, code, el('p', {}, button, ' ', status));
}
