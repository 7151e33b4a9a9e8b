import type { BodyOf, LoggerResource } from '../../api/contract/payloads.ts';
import type { Channel } from '../../collector/model/channel.ts';
import type { TimeForm } from '../../collector/model/device-mapping.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { mappingTrial } from './mapping-trial.ts';
import { messageLeaves } from './message-leaves.ts';

type Mapping = BodyOf<'tryMapping'>['mapping'];

const TIME_FORM_WORDS: Record<TimeForm, string> = {
  rfc3339: 'date and time, such as 2026-05-04T06:31:07Z',
  unix_s: 'seconds since 1970',
  unix_ms: 'milliseconds since 1970',
};
const MESSAGES_LIMIT = 20;

/** A device that can't be told our topics: where it publishes, what stands where, tried before it is saved. */
export function createMappingForm(
  logger: LoggerResource,
  timeZone: string | undefined,
  onSaved: () => void,
): HTMLElement {
  const kept = logger.mapping;
  const text = (value: string | undefined) =>
    el('input', {
      type: 'text',
      value,
      maxlength: 200,
      autocomplete: 'off',
      autocapitalize: 'off',
      spellcheck: 'false',
    });
  const filter = text(kept?.filter);
  const entries = text(kept?.channels[0]?.entries);
  const isList = el('input', { type: 'checkbox', checked: kept?.channels[0]?.entries === '' });
  const values = new Map<Channel, HTMLInputElement>(
    logger.channels.map(({ channel }) => [
      channel,
      text(kept?.channels.find((mapped) => mapped.channel === channel)?.value),
    ]),
  );
  const keptTime = kept?.channels.find((mapped) => mapped.time)?.time;
  const time = text(keptTime?.pointer);
  const form = el(
    'select',
    {},
    ...Object.entries(TIME_FORM_WORDS).map(([value, label]) =>
      el('option', { value, selected: value === (keptTime?.form ?? 'rfc3339') }, label),
    ),
  );
  const samples: { topic: HTMLInputElement; payload: HTMLTextAreaElement }[] = [];
  const sampleFields = el('div', {});
  const finder = el('div', {});
  const result = el('div', {});

  function addSample(): void {
    const topic = text(samples.length === 0 && kept && !/[+#]/.test(kept.filter) ? kept.filter : '');
    const payload = el('textarea', { rows: 5, spellcheck: 'false', autocomplete: 'off' });
    payload.addEventListener('input', showLeaves);
    samples.push({ topic, payload });
    const number = samples.length === 1 ? '' : ` ${samples.length}`;
    sampleFields.append(
      field(topic, { label: `Topic of a message it sent${number}` }),
      field(payload, { label: `The message${number}, as it was sent`, help: 'JSON, or a bare number.' }),
    );
  }

  /** The values of the first message, each with what it is to be: choosing fills the pointers above. */
  function showLeaves(): void {
    const leaves = messageLeaves(samples[0]!.payload.value, listPointer());
    const targets: readonly [string, HTMLInputElement][] = [...values, ['time', time]];
    replace(
      finder,
      leaves.length > 0 && el('p', { class: 'help' }, 'Values found in it. Choose what each one is:'),
      ...leaves.map((leaf) => {
        const choice = el(
          'select',
          {
            change: () => {
              for (const [, input] of targets) if (input.value === leaf.pointer) input.value = '';
              const chosen = targets.find(([name]) => name === choice.value);
              if (chosen) chosen[1].value = leaf.pointer;
              showLeaves();
            },
          },
          el('option', { value: '' }, 'not used'),
          ...targets.map(([name, input]) =>
            el('option', { value: name, selected: input.value === leaf.pointer && isUsed(input) }, name),
          ),
        );
        return field(choice, { label: leaf.pointer === '' ? 'the whole message' : leaf.pointer, help: leaf.text });
      }),
    );
  }

  /** Where the list of readings stands; empty: the whole message is one. Undefined where each brings one reading. */
  function listPointer(): string | undefined {
    return isList.checked ? '' : entries.value.trim() || undefined;
  }

  function showList(): void {
    entries.disabled = isList.checked;
    showLeaves();
  }

  /** An empty pointer means the whole message, which only a bare number is. */
  function isUsed(input: HTMLInputElement): boolean {
    return input !== time || input.value !== '';
  }

  function mapping(): Mapping | string {
    if (filter.value.trim() === '') return 'Name the topic that the device publishes under.';
    const bare = samples.some(({ payload }) => /^\s*-?[\d.]+\s*$/.test(payload.value));
    const list = listPointer();
    const wasWhole = (channel: Channel) =>
      kept?.channels.some((mapped) => mapped.channel === channel && mapped.value === '');
    const used = [...values].filter(
      ([channel, input]) => input.value.trim() !== '' || (bare && values.size === 1) || wasWhole(channel),
    );
    if (used.length === 0)
      return 'Say where at least one value stands, such as /pressure. Paste a message below, and choose it there.';
    const when = time.value.trim();
    return {
      filter: filter.value.trim(),
      channels: used.map(([channel, input]) => ({
        channel,
        value: input.value.trim(),
        ...(list === undefined ? {} : { entries: list }),
        ...(when === '' ? {} : { time: { pointer: when, form: form.value as TimeForm } }),
      })),
    };
  }

  async function attempt(action: (checked: Mapping) => Promise<HTMLElement | undefined>): Promise<void> {
    const checked = mapping();
    if (typeof checked === 'string') return replace(result, alert(checked));
    try {
      replace(result, await action(checked));
    } catch (error) {
      replace(result, problemNote(error));
    }
  }
  const tryIt = () =>
    attempt(async (checked) => {
      const messages = samples
        .filter(({ payload }) => payload.value !== '')
        .map(({ topic, payload }) => ({ topic: topic.value.trim() || checked.filter, payload: payload.value }));
      if (messages.length === 0)
        return alert('Paste a message that the device sent, to see what would be read from it.');
      return mappingTrial(
        await call('tryMapping', { params: { id: logger.id }, body: { mapping: checked, messages } }),
        timeZone,
      );
    });
  const save = (body: BodyOf<'updateLogger'>) => call('updateLogger', { params: { id: logger.id }, body });

  const another = el('button', { type: 'button' }, 'Another message');
  another.addEventListener('click', () => {
    addSample();
    another.hidden = samples.length >= MESSAGES_LIMIT;
  });
  addSample();
  entries.addEventListener('input', showLeaves);
  isList.addEventListener('change', showList);
  showList();
  return el(
    'details',
    {},
    el('summary', {}, kept ? `Its device publishes under ${kept.filter}` : 'A device with a form of its own'),
    kept?.refusedByBroker !== undefined &&
      alert(`The broker refused the subscription to ${kept.filter}: ${kept.refusedByBroker}. Allow it there.`),
    el(
      'p',
      {},
      'For a device whose firmware can’t be told our topic and message: name the topic it publishes under, and where in its JSON message the readings stand. It still signs in as described above.',
    ),
    el(
      'form',
      {
        submit: (event) => {
          event.preventDefault();
          void tryIt();
        },
      },
      field(filter, {
        label: 'Topic filter',
        help: 'As the device publishes, such as plant/7/state; + stands for one level, # for all that follow.',
      }),
      sampleFields,
      el('p', {}, another),
      finder,
      ...[...values].map(([channel, input]) =>
        field(input, {
          label: `Where ${channel} stands`,
          help: 'A JSON Pointer, such as /sensors/0/value. Empty: not sent.',
        }),
      ),
      field(time, { label: 'Where the time stands', help: 'Empty: the time of arrival.' }),
      field(form, { label: 'The time is written as' }),
      field(entries, {
        label: 'Where a list of readings stands',
        help: 'Only where one message brings many, such as /log; the other pointers then start at each entry.',
      }),
      el('label', { class: 'choice' }, isList, el('span', {}, 'The whole message is such a list')),
      result,
      el(
        'p',
        { class: 'buttons' },
        el('button', { type: 'submit' }, 'Try it'),
        el(
          'button',
          {
            type: 'button',
            class: 'main',
            click: () =>
              void attempt(async (checked) => {
                await save({ mapping: checked });
                onSaved();
                return undefined;
              }),
          },
          'Save',
        ),
        kept !== null &&
          el(
            'button',
            {
              type: 'button',
              click: () =>
                void save({ mapping: null }).then(onSaved, (error: unknown) => replace(result, problemNote(error))),
            },
            'Follow it no longer',
          ),
      ),
    ),
  );
}

function alert(text: string): HTMLElement {
  return el('p', { class: 'problem', role: 'alert' }, text);
}
