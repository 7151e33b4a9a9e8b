import type { FindingsDocument } from '../../api/analysis/findings.ts';
import { sentence, uncertaintyBar } from '../format.ts';
import { el, replace } from '../parts/element.ts';

const CERTAINTY_WORDS = { certain: 'certain', possible: 'possible', unknown: 'can’t tell yet' } as const;

/** Two sentences are read; the others are one touch away. */
const SAID_AT_ONCE = 2;

/** What can be said by now, with its certainty, and what is open; the reasons are one touch away. */
export function createKnownSoFar(): { element: HTMLElement; update(findings: FindingsDocument): void } {
  const said = el('div', { 'aria-live': 'polite' });
  const rest = el('div', {});
  const element = el(
    'section',
    { 'aria-labelledby': 'known' },
    el('h2', { id: 'known' }, 'What is known so far'),
    said,
    rest,
  );
  let shown = '';

  function say({ evidence }: FindingsDocument): void {
    const { statements, logging } = evidence;
    const words = [
      ...(statements.length === 0
        ? ['Nothing can be said yet: too little is logged.']
        : statements.slice(0, SAID_AT_ONCE).map(statementText)),
      ...(logging ? [logging.text] : []),
    ];
    // What stays as it was is left alone: it would be read out again.
    words.forEach((text, place) => {
      const paragraph = said.children[place];
      if (!paragraph) said.append(el('p', {}, text));
      else if (paragraph.textContent !== text) paragraph.textContent = text;
    });
    while (said.children.length > words.length) said.lastElementChild?.remove();
  }

  return {
    element,
    update(findings) {
      const { evidence, limits, sensorBudget } = findings;
      const text = JSON.stringify([evidence, limits, sensorBudget]);
      if (text === shown) return;
      shown = text;
      say(findings);
      const { statements, open } = evidence;
      const opened = [...rest.querySelectorAll('details')].map((details) => details.open);
      replace(
        rest,
        statements.length > SAID_AT_ONCE &&
          el(
            'details',
            {},
            el('summary', {}, 'More that can be said'),
            ...statements.slice(SAID_AT_ONCE).map(statementElement),
          ),
        open.length > 0 &&
          el(
            'div',
            {},
            el('p', { class: 'quiet' }, 'Still open:'),
            el('ul', { class: 'open' }, ...open.map((item) => el('li', {}, sentence(item)))),
          ),
        el(
          'details',
          {},
          el('summary', {}, 'How sure a reading is, and what this log can’t show'),
          el(
            'p',
            {},
            `A single pressure reading is good to ${uncertaintyBar(findings.sensorUBar)} (expanded uncertainty, k = 2). A pressure is called certainly below a threshold only when it is below by more than that.`,
          ),
          findings.sensorBudget.length > 0 &&
            el(
              'ul',
              {},
              ...findings.sensorBudget.map((part) =>
                el(
                  'li',
                  {},
                  `${sentence(part.source).slice(0, -1)}: ${part.standardUncertaintyBar.toFixed(4)}\u00a0bar (one standard uncertainty)`,
                ),
              ),
            ),
          ...findings.limits.map((limit) => el('p', {}, sentence(limit))),
          findings.detectionFloor && el('p', {}, sentence(findings.detectionFloor.note)),
        ),
      );
      const now = rest.querySelectorAll('details');
      if (now.length === opened.length)
        now.forEach((details, place) => {
          details.open = opened[place]!;
        });
    },
  };
}

type Statement = FindingsDocument['evidence']['statements'][number];

function statementText({ text, certainty }: Statement): string {
  return statedWith(text, CERTAINTY_WORDS[certainty]);
}

function statementElement(statement: Statement): HTMLElement {
  return el('p', {}, statementText(statement));
}

function statedWith(text: string, certainty: string): string {
  // The statement may name its certainty already; it isn't said twice.
  if (text.toLowerCase().includes(certainty)) return sentence(text);
  return `${text.replace(/[.]$/, '')} (${certainty}).`;
}
