import { el } from './element.ts';

/** Hands a file made in the page to the browser's downloads. */
export function saveFile(blob: Blob, name: string): void {
  const address = URL.createObjectURL(blob);
  el('a', { href: address, download: name }).click();
  // The download reads the address after this turn; a minute is ample, and then the memory is given back.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
