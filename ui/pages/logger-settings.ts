import type { BodyOf, LoggerResource } from '../../api/contract/payloads.ts';
import { call } from '../data/api-client.ts';
import { el } from '../parts/element.ts';
import { choices, field, numberInput, readNumber } from '../parts/field.ts';
import { controlsByName, createFormReport, Fault, NOTHING_CHANGED, saveForm } from '../parts/form-report.ts';
import { isTouched, showSaved } from '../parts/kept-value.ts';
import { type ChannelBody, createChannelForm } from './channel-form.ts';
import { POSITION_CHOICES } from './position-words.ts';

export interface LoggerForm {
  readonly element: HTMLElement;
  /** Shows what is saved now, here or elsewhere; what is being typed stays. */
  update(logger: LoggerResource): void;
}

type Saved = (logger: LoggerResource) => void;

/** How its channels are read from now on, moving it, hiding it. Stored samples never change by any of these. */
export function createLoggerSettings(
  logger: LoggerResource,
  intents: { onSaved: Saved; onHidden(): void },
): LoggerForm {
  const reading = createReadingForm(logger, intents.onSaved);
  const moving = createMovingForm(logger, intents.onSaved);
  const hiding = createFormReport();
  return {
    element: el(
      'div',
      {},
      reading.element,
      moving.element,
      el(
        'p',
        { class: 'quiet' },
        'Hiding takes it off the lists and refuses its messages. It is kept for 30 days and erased then.',
      ),
      hiding.element,
      hiding.button('Hide this logger', () => call('deleteLogger', { params: { id: logger.id } }), intents.onHidden),
    ),
    update(now) {
      reading.update(now);
      moving.update(now);
    },
  };
}

function createReadingForm(logger: LoggerResource, onSaved: Saved): LoggerForm {
  const forms = logger.channels.map((channel) => createChannelForm(channel));

  /** Only the channels that were changed here: another page may have changed others meanwhile. */
  function changes(): BodyOf<'updateLogger'> | Fault {
    const channels: ChannelBody[] = [];
    for (const form of forms) {
      const channel = form.read();
      if (channel instanceof Fault) return channel;
      if (form.touched()) channels.push(channel);
    }
    return channels.length === 0 ? new Fault(NOTHING_CHANGED) : { channels };
  }

  return {
    element: el(
      'details',
      {},
      el('summary', {}, 'How its values are read'),
      el('p', {}, 'Changes hold from now on. Samples stay as they were sent.'),
      saveForm(
        {
          button: 'Save',
          read: changes,
          send: (body) => call('updateLogger', { params: { id: logger.id }, body }),
          done: (saved) => {
            onSaved(saved);
            return 'Saved.';
          },
          controlAt: (place) => {
            const touched = forms.filter((form) => form.touched());
            return touched[Number(/channels\.(\d+)/.exec(place)?.[1])]?.controlAt(place);
          },
        },
        ...forms.map((form) => form.element),
      ),
    ),
    update(now) {
      for (const form of forms) {
        const saved = now.channels.find(({ channel }) => channel === form.channel);
        if (saved) form.update(saved);
      }
    },
  };
}

function createMovingForm(logger: LoggerResource, onSaved: Saved): LoggerForm {
  const height = numberInput();
  const site = el('select', {}, el('option', { value: '' }, 'in nobody’s house'));
  const position = choices('Position', POSITION_CHOICES, logger.position, () => {});
  const positions = [...position.querySelectorAll('input')];
  const problem = createFormReport();
  let saved = logger;

  function changes(): BodyOf<'updateLogger'> | Fault {
    const metres = readNumber(height);
    if (metres === undefined)
      return new Fault(`The height reads “${height.value}”. Enter metres, for example 0 or 1.2.`, height);
    const chosen = POSITION_CHOICES.find(({ value }) =>
      positions.some((input) => input.checked && input.value === value),
    );
    const body = {
      ...(isTouched(site) && { site: site.value === '' ? null : site.value }),
      ...(chosen && chosen.value !== saved.position && { position: chosen.value }),
      ...(isTouched(height) && { heightAboveSupplyPointM: metres }),
    };
    return Object.keys(body).length === 0 ? new Fault('It stands there already.') : body;
  }

  function update(now: LoggerResource): void {
    saved = now;
    showSaved(height, String(now.heightAboveSupplyPointM));
    showSaved(site, now.site ?? '');
    const typed = positions.some(isTouched);
    for (const input of positions) {
      input.defaultChecked = input.value === now.position;
      if (!typed) input.checked = input.defaultChecked;
    }
  }
  update(logger);
  void problem.attempt(
    () => call('listSites'),
    (sites) => {
      site.append(...sites.map((entry) => el('option', { value: entry.id }, entry.name)));
      showSaved(site, saved.site ?? '');
      return undefined;
    },
  );

  return {
    element: el(
      'details',
      {},
      el('summary', {}, 'Move it'),
      el(
        'p',
        {},
        'What it recorded so far stays with the house where it was; from now on it belongs to the place chosen here.',
      ),
      problem.element,
      saveForm(
        {
          button: 'Move it from now on',
          read: changes,
          send: (body) => call('updateLogger', { params: { id: logger.id }, body }),
          done: (now) => {
            onSaved(now);
            return 'Moved.';
          },
          controlAt: controlsByName({ site, heightAboveSupplyPointM: height }),
        },
        field(site, { label: 'It stands in' }),
        position,
        field(height, { label: 'Height above the boundary stop tap, metres' }),
      ),
    ),
    update,
  };
}
