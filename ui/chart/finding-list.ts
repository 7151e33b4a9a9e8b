import type { SeriesResponse } from '../../api/contract/payloads.ts';
import { clockWithSeconds, counted, figure } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { problemNote } from '../parts/problem-note.ts';
import type { SiteTime } from '../site-time.ts';
import type { ErasedPart } from './erased-words.ts';
import type { FindingAccount } from './finding-words.ts';

export interface FindingListView {
  readonly accounts: readonly FindingAccount[];
  readonly open: FindingAccount | undefined;
  readonly time: SiteTime;
  /** False while the findings are still being worked out. */
  readonly ready: boolean;
  readonly erased: ErasedPart | undefined;
}

export interface FindingListIntents {
  addressOf(key: string): string;
  /** Undefined: the open one was closed. */
  onOpen(account: FindingAccount | undefined): void;
  samplesOf(account: FindingAccount): Promise<SeriesResponse>;
}

/** A long list is shown by the hundred: a year holds thousands of draws. */
const SHOWN_AT_ONCE = 40;

/** Findings in the span, each a button; the open one shows its figures, its rule and its samples. */
export function createFindingList(intents: FindingListIntents): {
  element: HTMLElement;
  update(view: FindingListView): void;
} {
  const body = el('div', {});
  const element = el(
    'section',
    { 'aria-labelledby': 'findings' },
    el('h2', { id: 'findings' }, 'Found in this span'),
    body,
  );
  let drawn = '';
  let more = SHOWN_AT_ONCE;
  let last: FindingListView | undefined;

  function render(view: FindingListView): void {
    const { accounts, open, time, ready, erased } = view;
    // Live samples redraw the chart often; the list is left alone while it says the same.
    const now = [ready, more, open?.key, accounts.length, accounts[0]?.key, accounts.at(-1)?.key, erased?.words].join(
      ' ',
    );
    if (now === drawn) return;
    drawn = now;
    // An address may open one that lies beyond those shown at once.
    const isHidden = open && !accounts.slice(0, more).includes(open);
    const listed = isHidden ? [open, ...accounts.filter((account) => account !== open)] : accounts;
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.dataset['key'] : undefined;
    replace(
      body,
      erased !== undefined && el('p', {}, erased.words),
      !ready
        ? el('p', { class: 'quiet' }, 'The findings are being worked out.')
        : listed.length === 0
          ? erased?.whole !== true &&
            el(
              'p',
              {},
              `Nothing was found ${erased ? 'in the rest' : 'here'}: no low supply, no sag, no fault, no own draw.`,
            )
          : el(
              'ul',
              { class: 'findings' },
              ...listed.slice(0, more).map((account) => entry(account, account === open, time)),
            ),
      listed.length > more &&
        el(
          'button',
          {
            type: 'button',
            class: 'wide',
            click: () => {
              more += SHOWN_AT_ONCE;
              if (last) render(last);
            },
          },
          `Show more of ${counted(listed.length, 'finding')}`,
        ),
    );
    if (focused) body.querySelector<HTMLElement>(`[data-key="${CSS.escape(focused)}"]`)?.focus({ preventScroll: true });
  }

  function entry(account: FindingAccount, isOpen: boolean, time: SiteTime): HTMLElement {
    const certainty = account.certainty ? ` (${account.certainty})` : '';
    return el(
      'li',
      {},
      el(
        'button',
        {
          type: 'button',
          'aria-expanded': isOpen ? 'true' : 'false',
          'data-key': account.key,
          click: () => intents.onOpen(isOpen ? undefined : account),
        },
        `${account.title}${certainty}`,
      ),
      isOpen && details(account, time),
    );
  }

  function details(account: FindingAccount, time: SiteTime): HTMLElement {
    const samples = el('div', {}, el('p', { class: 'quiet' }, 'Loading its samples.'));
    intents.samplesOf(account).then(
      (series) => replace(samples, samplesTable(series, account, time)),
      (error: unknown) => {
        if (!(error instanceof DOMException)) replace(samples, problemNote(error));
      },
    );
    return el(
      'div',
      { class: 'finding' },
      el(
        'dl',
        { class: 'figures' },
        ...account.figures.flatMap(([name, value]) => [el('dt', {}, name), el('dd', {}, value)]),
      ),
      el('p', {}, `The rule: ${account.rule}`),
      el('p', {}, el('a', { class: 'row-link', href: intents.addressOf(account.key) }, 'Address of this finding')),
      samples,
    );
  }

  return {
    element,
    update(view) {
      last = view;
      render(view);
    },
  };
}

function samplesTable(series: SeriesResponse, account: FindingAccount, time: SiteTime): HTMLElement {
  if (series.time.length === 0) return el('p', { class: 'quiet' }, 'There are no samples in it: that is the finding.');
  const raw = series.resolution === 'raw';
  const value = (column: readonly number[], index: number) => el('td', { class: 'number' }, figure(column[index]!, 3));
  return el(
    'details',
    {},
    el('summary', {}, raw ? 'Its samples' : 'Its samples, as lowest, mean and highest'),
    el(
      'div',
      { class: 'table', tabindex: '0', role: 'group', 'aria-label': 'Samples of the finding' },
      el(
        'table',
        {},
        el(
          'thead',
          {},
          el(
            'tr',
            {},
            el('th', { scope: 'col' }, 'Time'),
            ...(raw ? [`Reading, ${series.unit}`] : [`Lowest, ${series.unit}`, 'Mean', 'Highest', 'Samples']).map(
              (name) => el('th', { scope: 'col', class: 'number' }, name),
            ),
            el('th', { scope: 'col' }, ''),
          ),
        ),
        el(
          'tbody',
          {},
          ...series.time.map((atMs, index) => {
            const inside = atMs >= account.fromMs && atMs < account.toMs;
            const columns = raw
              ? [value(series.mean, index)]
              : [
                  value(series.min, index),
                  value(series.mean, index),
                  value(series.max, index),
                  el('td', { class: 'number' }, String(series.count[index])),
                ];
            return el(
              'tr',
              {},
              el('td', {}, clockWithSeconds(atMs, time)),
              ...columns,
              el('td', {}, inside ? 'in it' : ''),
            );
          }),
        ),
      ),
    ),
  );
}
