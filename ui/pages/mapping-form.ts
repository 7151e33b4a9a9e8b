import type { BodyOf, LoggerResource } from '../../api/contract/payloads.ts';
import type { Channel } from '../../collector/model/channel.ts';
import type { TimeForm } from '../../collector/model/device-mapping.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { field } from '../parts/field.ts';
import { createFormReport, Fault } from '../parts/form-report.ts';
import { type Control, showSaved, takeAsSaved } from '../parts/kept-value.ts';
import type { LoggerForm } from './logger-settings.ts';
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
  onSaved: (logger: LoggerResource) => void,
): LoggerForm {
  let kept = logger.mapping;
  const text = () =>
    el('input', {
      type: 'text',
      maxlength: 200,
      autocomplete: 'off',
      autocapitalize: 'off',
      spellcheck: 'false',
    });
  const filter = text();
  const entries = text();
  const isList = el('input', { type: 'checkbox' });
  const values = new Map<Channel, HTMLInputElement>(logger.channels.map(({ channel }) => [channel, text()]));
  const time = text();
  const form = el(
    'select',
    {},
    ...Object.entries(TIME_FORM_WORDS).map(([value, label]) => el('option', { value }, label)),
  );
  const samples: { topic: HTMLInputElement; payload: HTMLTextAreaElement }[] = [];
  const sampleFields = el('div', {});
  const finder = el('div', {});
  const result = el('div', {});

  function addSample(): void {
    const topic = text();
    if (samples.length === 0 && kept && !/[+#]/.test(kept.filter)) showSaved(topic, kept.filter);
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

  function mapping(): Mapping | Fault {
    if (filter.value.trim() === '')
      return new Fault('Name the topic that the device publishes under, such as plant/7/state.', filter);
    const bare = samples.some(({ payload }) => /^\s*-?[\d.]+\s*$/.test(payload.value));
    const list = listPointer();
    const wasWhole = (channel: Channel) =>
      kept?.channels.some((mapped) => mapped.channel === channel && mapped.value === '');
    const used = [...values].filter(
      ([channel, input]) => input.value.trim() !== '' || (bare && values.size === 1) || wasWhole(channel),
    );
    if (used.length === 0)
      return new Fault(
        'Say where at least one value stands, such as /pressure. Paste a message above, and choose it there.',
        [...values.values()][0],
      );
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

  /** The control of what the server refuses; its list of channels is the one that was sent. */
  function controlAt(place: string): Control | undefined {
    const sample = samples[Number(/messages\.(\d+)/.exec(place)?.[1])];
    if (sample) return /topic$/.test(place) ? sample.topic : sample.payload;
    if (/filter/.test(place)) return filter;
    if (/time\.form$/.test(place)) return form;
    if (/time/.test(place)) return time;
    if (/entries$/.test(place)) return entries.disabled ? undefined : entries;
    const checked = mapping();
    const channel = checked instanceof Fault ? undefined : checked.channels[Number(/channels\.(\d+)/.exec(place)?.[1])];
    return channel && values.get(channel.channel);
  }

  const report = createFormReport(controlAt);
  function tryIt(): void {
    replace(result);
    const checked = mapping();
    if (checked instanceof Fault) {
      report.wrong(checked);
      return;
    }
    const messages = samples
      .filter(({ payload }) => payload.value !== '')
      .map(({ topic, payload }) => ({ topic: topic.value.trim() || checked.filter, payload: payload.value }));
    if (messages.length === 0) {
      const text = 'Paste a message that the device sent, to see what would be read from it.';
      report.wrong(new Fault(text, samples[0]!.payload));
      return;
    }
    void report.attempt(
      () => call('tryMapping', { params: { id: logger.id }, body: { mapping: checked, messages } }),
      (trial) => {
        replace(result, mappingTrial(trial, timeZone));
        return undefined;
      },
    );
  }
  function save(mapping: Mapping | null): void {
    replace(result);
    void report.attempt(
      () => call('updateLogger', { params: { id: logger.id }, body: { mapping } }),
      (saved) => {
        for (const control of [filter, entries, isList, time, form, ...values.values()]) takeAsSaved(control);
        if (mapping === null) for (const control of [filter, entries, time, ...values.values()]) control.value = '';
        update(saved);
        onSaved(saved);
        if (mapping === null) filter.focus();
        return mapping === null ? 'It is followed no longer.' : 'Saved: its messages are read like this from now on.';
      },
    );
  }

  const another = el('button', { type: 'button' }, 'Another message');
  another.addEventListener('click', () => {
    addSample();
    another.hidden = samples.length >= MESSAGES_LIMIT;
  });
  const summary = el('summary', {});
  const refusal = el('div', {});
  const drop = el('button', { type: 'button', click: () => save(null) }, 'Follow it no longer');

  function update(now: LoggerResource): void {
    kept = now.mapping;
    const keptTime = kept?.channels.find((mapped) => mapped.time)?.time;
    showSaved(filter, kept?.filter ?? '');
    showSaved(entries, kept?.channels[0]?.entries ?? '');
    showSaved(isList, kept?.channels[0]?.entries === '' ? 'on' : '');
    for (const [channel, input] of values)
      showSaved(input, kept?.channels.find((mapped) => mapped.channel === channel)?.value ?? '');
    showSaved(time, keptTime?.pointer ?? '');
    showSaved(form, keptTime?.form ?? 'rfc3339');
    summary.textContent = kept ? `Its device publishes under ${kept.filter}` : 'A device with a form of its own';
    replace(
      refusal,
      kept?.refusedByBroker !== undefined &&
        alert(`The broker refused the subscription to ${kept.filter}: ${kept.refusedByBroker}. Allow it there.`),
    );
    drop.hidden = kept === null;
    showList();
  }

  addSample();
  update(logger);
  entries.addEventListener('input', showLeaves);
  isList.addEventListener('change', showList);
  const element = el(
    'details',
    {},
    summary,
    refusal,
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
          tryIt();
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
      report.element,
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
            click: () => {
              const checked = mapping();
              if (checked instanceof Fault) report.wrong(checked);
              else save(checked);
            },
          },
          'Save',
        ),
        drop,
      ),
    ),
  );
  return { element, update };
}

function alert(text: string): HTMLElement {
  return el('p', { class: 'problem', role: 'alert' }, text);
}
