import type { Drawing } from './drawing.ts';

export interface LetterTable {
  readonly caption: string;
  readonly head: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** A letter's parts in order; HTML and PDF render the same blocks. */
export type LetterBlock =
  | { readonly kind: 'paragraph'; readonly text: string }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | { readonly kind: 'table'; readonly table: LetterTable }
  | { readonly kind: 'chart'; readonly caption: string; readonly drawing: Drawing };

export interface LetterSection {
  readonly heading: string;
  readonly blocks: readonly LetterBlock[];
}

export interface LetterContent {
  readonly title: string;
  readonly subtitle: string;
  /** Stands on every page; undefined for a real house. */
  readonly banner: string | undefined;
  readonly sections: readonly LetterSection[];
  readonly footer: string;
}
