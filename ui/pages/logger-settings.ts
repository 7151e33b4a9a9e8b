import type { LoggerResource } from '../../api/contract/payloads.ts';
import type { Position } from '../../collector/model/channel.ts';
import { call } from '../data/api-client.ts';
import { el, replace } from '../parts/element.ts';
import { choices, field, numberInput, readNumber } from '../parts/field.ts';
import { problemNote } from '../parts/problem-note.ts';
import { type ChannelBody, createChannelForm } from './channel-form.ts';
import { POSITION_CHOICES } from './position-words.ts';

/** How its channels are read from now on, moving it, hiding it. Stored samples never change by any of these. */
export function createLoggerSettings(
  logger: LoggerResource,
  intents: { onSaved(): void; onHidden(): void },
): HTMLElement {
  const problem = el('div');
  const attempt = async (action: () => Promise<unknown>, done: () => void) => {
    replace(problem);
    try {
      await action();
      done();
    } catch (error) {
      replace(problem, problemNote(error));
    }
  };

  const forms = logger.channels.map((channel) => createChannelForm(channel));
  const saveChannels = (event: Event) => {
    event.preventDefault();
    const channels: ChannelBody[] = [];
    for (const form of forms) {
      const channel = form.read();
      if (typeof channel === 'string') return replace(problem, el('p', { class: 'problem', role: 'alert' }, channel));
      channels.push(channel);
    }
    void attempt(() => call('updateLogger', { params: { id: logger.id }, body: { channels } }), intents.onSaved);
  };

  let position: Position = logger.position;
  const height = numberInput(logger.heightAboveSupplyPointM);
  const site = el('select', {}, el('option', { value: '', selected: logger.site === null }, 'in nobody’s house'));
  void call('listSites').then(
    (sites) =>
      site.append(
        ...sites.map((entry) => el('option', { value: entry.id, selected: entry.id === logger.site }, entry.name)),
      ),
    (error: unknown) => replace(problem, problemNote(error)),
  );
  const move = (event: Event) => {
    event.preventDefault();
    const metres = readNumber(height);
    if (metres === undefined)
      return replace(
        problem,
        el(
          'p',
          { class: 'problem', role: 'alert' },
          `The height reads “${height.value}”. Enter metres, for example 0 or 1.2.`,
        ),
      );
    const body = { site: site.value === '' ? null : site.value, position, heightAboveSupplyPointM: metres };
    void attempt(() => call('updateLogger', { params: { id: logger.id }, body }), intents.onSaved);
  };

  return el(
    'div',
    {},
    el(
      'details',
      {},
      el('summary', {}, 'How its values are read'),
      el('p', {}, 'Changes hold from now on. Samples stay as they were sent.'),
      el(
        'form',
        { submit: saveChannels },
        ...forms.map((form) => form.element),
        el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Save')),
      ),
    ),
    el(
      'details',
      {},
      el('summary', {}, 'Move it'),
      el(
        'p',
        {},
        'What it recorded so far stays with the house where it was; from now on it belongs to the place chosen here.',
      ),
      el(
        'form',
        { submit: move },
        field(site, { label: 'It stands in' }),
        choices('Position', POSITION_CHOICES, position, (value) => {
          position = value;
        }),
        field(height, { label: 'Height above the boundary stop tap, metres' }),
        el('p', {}, el('button', { type: 'submit', class: 'wide' }, 'Move it from now on')),
      ),
    ),
    problem,
    el(
      'p',
      { class: 'quiet' },
      'Hiding takes it off the lists and refuses its messages. It is kept for 30 days and erased then.',
    ),
    el(
      'p',
      {},
      el(
        'button',
        {
          type: 'button',
          class: 'wide',
          click: () => void attempt(() => call('deleteLogger', { params: { id: logger.id } }), intents.onHidden),
        },
        'Hide this logger',
      ),
    ),
  );
}
