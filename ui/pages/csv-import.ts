import type { ImportPreviewResponse, ImportResponse, LoggerResource, QueryOf } from '../../api/contract/payloads.ts';
import type { Channel } from '../../collector/model/channel.ts';
import { ApiError, previewImport } from '../data/api-client.ts';
import { importFile, isGzip } from '../data/upload.ts';
import { bytes, largeNumber, listed, percent } from '../format.ts';
import { el, replace } from '../parts/element.ts';
import { choices, field } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { addressOf } from '../view-state.ts';
import { zoneSelect } from './new-site-form.ts';
import type { PageContext } from './page-view.ts';

/** A column is known by its name in the file; of other answers the meaning says more than the parameter's value. */
function answerLabel(option: string, answer: { readonly value: string; readonly meaning: string }): string {
  if (!answer.meaning) return answer.value;
  return option === 'time' || option === 'value' ? `${answer.value} (${answer.meaning})` : answer.meaning;
}

/** A preview reads at most this much of a file. */
const PREVIEW_BYTES = 256 * 1024;

const ROWS_SHOWN = 8;

type Question = ImportPreviewResponse['questions'][number];
type Answers = { -readonly [K in keyof QueryOf<'importSamples'>]: QueryOf<'importSamples'>[K] };

/** Chooses a file, shows how it would be read, asks what can be read in two ways, sends it, tells the result. */
export function createCsvImport(context: PageContext, logger: LoggerResource): HTMLElement {
  const file = el('input', { type: 'file', accept: '.csv,.txt,.gz,text/csv,application/gzip' });
  const channel = el(
    'select',
    {},
    ...['pressure', ...logger.channels.map((entry) => entry.channel).filter((name) => name !== 'pressure')].map(
      (name) => el('option', { value: name }, name),
    ),
  );
  const outcome = el('div', {});
  let answers: Answers = {};

  async function preview(): Promise<void> {
    const chosen = file.files?.[0];
    if (!chosen) return;
    answers = { ...answers, channel: channel.value as Channel };
    replace(
      outcome,
      el('p', { class: 'quiet', role: 'status' }, `Reading the beginning of ${chosen.name} (${bytes(chosen.size)}).`),
    );
    try {
      const seen = await previewImport(logger.id, answers, chosen.slice(0, PREVIEW_BYTES), isGzip(chosen));
      showPreview(chosen, seen);
    } catch (error) {
      if (!askAbout(error, () => void preview())) replace(outcome, problemNote(error));
    }
  }

  function showPreview(chosen: File, seen: ImportPreviewResponse): void {
    const { understood } = seen;
    replace(
      outcome,
      el('h3', {}, 'As it would be read'),
      understood !== null &&
        el(
          'p',
          {},
          `Time from ${named(understood.timeColumns)}, value from ${named([understood.valueColumn])} in ${understood.unit}.${understood.zone === null ? '' : ` Times are by the clock of ${understood.zone}.`}`,
        ),
      seen.rows.length > 0 &&
        el(
          'div',
          { class: 'table', tabindex: '0', role: 'group', 'aria-label': 'First rows as understood' },
          table(
            ['Line', 'In the file', 'Read as'],
            seen.rows
              .slice(0, ROWS_SHOWN)
              .map((row) => [
                String(row.line),
                row.text,
                'refused' in row ? `refused: ${row.refused}` : `${row.time}, ${row.value} ${row.unit}`,
              ]),
          ),
        ),
      ...(seen.questions.length > 0
        ? seen.questions.map((question) => ask(question, () => void preview()))
        : [
            el(
              'p',
              {},
              el('button', { type: 'button', class: 'main wide', click: () => void send(chosen) }, 'Import it'),
            ),
          ]),
      otherColumns(seen),
    );
  }

  /** Where the columns were taken wrongly, others are chosen here. */
  function otherColumns(seen: ImportPreviewResponse): HTMLElement | undefined {
    if (seen.columns.length < 2) return undefined;
    const choose = (key: 'time' | 'value', label: string, taken: string | undefined) => {
      const select = el(
        'select',
        {},
        taken === undefined && el('option', { value: '' }, 'not chosen'),
        ...seen.columns.map((name) => el('option', { value: name, selected: name === taken }, name)),
      );
      select.addEventListener('change', () => {
        answers = { ...answers, [key]: select.value || undefined };
        void preview();
      });
      return field(select, { label });
    };
    return el(
      'details',
      {},
      el('summary', {}, 'Take other columns'),
      choose('time', 'The time stands in', seen.understood?.timeColumns[0]),
      choose('value', 'The value stands in', seen.understood?.valueColumn),
    );
  }

  function ask(question: Question, again: () => void): HTMLElement {
    const answer = (value: string) => {
      answers = { ...answers, [question.option]: value };
      again();
    };
    if (question.answers.length > 0 && question.answers.length <= 12)
      return choices(
        question.question,
        question.answers.map((entry) => ({ value: entry.value, label: answerLabel(question.option, entry) })),
        undefined,
        answer,
      );
    const input =
      question.option === 'zone'
        ? zoneSelect(Intl.DateTimeFormat().resolvedOptions().timeZone)
        : el('input', { type: question.option === 'date' ? 'date' : 'text', autocomplete: 'off' });
    return el(
      'form',
      {
        submit: (event) => {
          event.preventDefault();
          answer(input.value.trim());
        },
      },
      field(input, {
        label: question.question,
        help: question.example === undefined ? undefined : `For example ${question.example}.`,
      }),
      el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Go on')),
    );
  }

  /** The server's questions instead of an error, where the file can be read in two ways. */
  function askAbout(error: unknown, again: () => void): boolean {
    if (!(error instanceof ApiError) || error.code !== 'needs_answer') return false;
    const { questions } = error.body as { questions?: readonly Question[] };
    if (!Array.isArray(questions) || questions.length === 0) return false;
    replace(outcome, ...questions.map((question: Question) => ask(question, again)));
    return true;
  }

  async function send(chosen: File): Promise<void> {
    const bar = el('progress', { max: 1, value: 0, 'aria-label': 'Share of the file that is sent' });
    const words = el('p', { class: 'quiet', role: 'status' }, 'Sending.');
    replace(outcome, bar, words);
    const unsubscribe = context.live.onFrame((frame) => {
      if (frame.type === 'progress' && frame.task === 'import' && frame.subject === logger.id && !frame.finished)
        words.textContent = `Storing: ${largeNumber(frame.done)} rows so far.`;
    });
    try {
      const result = await importFile(logger.id, answers, chosen, (sent, total) => {
        bar.value = total > 0 ? sent / total : 0;
        words.textContent =
          sent < total
            ? `Sent ${percent(sent / total)} of ${bytes(total)}.`
            : 'All of it is sent; the samples are being stored.';
      });
      replace(outcome, importResult(result, logger));
      answers = {};
      context.announce(`${largeNumber(result.stored)} samples were stored.`);
    } catch (error) {
      if (!askAbout(error, () => void send(chosen)))
        replace(
          outcome,
          problemNote(error, () => void send(chosen)),
        );
    } finally {
      unsubscribe();
    }
  }

  file.addEventListener('change', () => {
    answers = {};
    void preview();
  });
  channel.addEventListener('change', () => void preview());
  return el(
    'div',
    {},
    field(file, {
      label: 'CSV file, plain or .gz',
      help: 'With a time and a value in every row. Importing the same file again changes nothing.',
    }),
    logger.channels.length > 1 && field(channel, { label: 'It holds' }),
    outcome,
  );
}

/** Stays on the page until another file is chosen: what became of a file must be there to be read. */
function importResult(result: ImportResponse, logger: LoggerResource): HTMLElement {
  const conflict =
    result.conflict > 0
      ? `, ${largeNumber(result.conflict)} had a time that was there with another value (the first stays)`
      : '';
  const erased =
    result.erased > 0
      ? `, ${largeNumber(result.erased)} left out because the samples of their hours were erased by age`
      : '';
  return el(
    'div',
    { role: 'status' },
    el(
      'p',
      {},
      `${largeNumber(result.rows)} rows: ${largeNumber(result.stored)} stored, ${largeNumber(result.duplicate)} were there already${conflict}${erased}, ${largeNumber(result.refusedCount)} refused.`,
    ),
    result.refused.length > 0 &&
      el(
        'details',
        {},
        el('summary', {}, 'The refused lines'),
        el('ul', {}, ...result.refused.map((line) => el('li', {}, `Line ${line.line}: ${line.reason}`))),
        result.refusedCount > result.refused.length && el('p', {}, 'Only the first of them are listed.'),
      ),
    logger.site !== null &&
      result.stored + result.duplicate > 0 &&
      el(
        'p',
        {},
        el(
          'a',
          { class: 'action', href: addressOf({ name: 'site', siteId: logger.site }) },
          'Read the diary of its site',
        ),
      ),
  );
}

function named(columns: readonly string[]): string {
  return listed(columns.map((name) => `“${name}”`));
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): HTMLElement {
  return el(
    'table',
    {},
    el('thead', {}, el('tr', {}, ...head.map((name) => el('th', { scope: 'col' }, name)))),
    el('tbody', {}, ...rows.map((row) => el('tr', {}, ...row.map((cell) => el('td', {}, cell))))),
  );
}
