import type { AboutResponse, BodyOf, ResponseOf, SiteResource } from '../../api/contract/payloads.ts';
import { LOGGER_ID_PATTERN, type Position } from '../../collector/model/channel.ts';
import { ApiError, call } from '../data/api-client.ts';
import { copyLine } from '../parts/copy-button.ts';
import { el, replace } from '../parts/element.ts';
import { choices, field, numberInput, readNumber } from '../parts/field.ts';
import { controlsByName, Fault, saveForm } from '../parts/form-report.ts';
import { problemNote } from '../parts/problem-note.ts';
import { addressOf } from '../view-state.ts';
import { type ChannelBody, createChannelForm, FURTHER_CHANNELS } from './channel-form.ts';
import { connectGuide } from './connect-guide.ts';
import { createFirstSample } from './first-sample.ts';
import type { PageContext, PageView } from './page-view.ts';
import { fittingCautions, POSITION_CHOICES } from './position-words.ts';

/** Adding a logger step by step, up to its first received sample. */
export function createNewLoggerPage(context: PageContext, siteId: string | undefined): PageView {
  const body = el('div', {}, el('p', { class: 'quiet', role: 'status' }, 'Loading.'));
  const element = el('div', {}, el('h1', {}, 'Add a logger'), body);
  const abort = new AbortController();
  let stopWaiting = () => {};

  async function load(): Promise<void> {
    try {
      const sites = await call('listSites', { signal: abort.signal });
      if (sites.length === 0)
        replace(
          body,
          el('p', {}, 'A logger stands in a house, and there is none yet. Add the house first.'),
          el('p', {}, el('a', { class: 'action main wide', href: '/' }, 'To the sites')),
        );
      else replace(body, form(sites));
    } catch (error) {
      if (!abort.signal.aborted)
        replace(
          body,
          problemNote(error, () => void load()),
        );
    }
  }

  function form(sites: readonly SiteResource[]): HTMLElement {
    let position: Position = 'incoming';
    const id = el('input', {
      type: 'text',
      autocomplete: 'off',
      autocapitalize: 'none',
      spellcheck: 'false',
      maxlength: 64,
      required: true,
    });
    const site = el(
      'select',
      {},
      ...sites.map((entry) => el('option', { value: entry.id, selected: entry.id === siteId }, entry.name)),
    );
    const height = numberInput(0);
    const pressure = createChannelForm({ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] });
    const further = FURTHER_CHANNELS.map((channel) => {
      const wanted = el('input', { type: 'checkbox' });
      const settings = createChannelForm({ channel, unit: channel === 'flow' ? 'l/min' : 'on/off' });
      settings.element.hidden = true;
      wanted.addEventListener('change', () => {
        settings.element.hidden = !wanted.checked;
      });
      const label = channel === 'flow' ? 'It also sends the household’s flow' : 'It also sends whether a pump runs';
      return {
        wanted,
        settings,
        element: el('div', {}, el('label', { class: 'choice' }, wanted, el('span', {}, label)), settings.element),
      };
    });
    const named = controlsByName({ id, logger_exists: id, site, heightAboveSupplyPointM: height });

    function readForm(): BodyOf<'createLogger'> | Fault {
      const name = id.value.trim();
      if (!LOGGER_ID_PATTERN.test(name))
        return new Fault(
          `The name reads “${name}”. It may hold a to z, 0 to 9, - and _, at most 64 of them, for example front-hall.`,
          id,
        );
      const metres = readNumber(height);
      if (metres === undefined)
        return new Fault(`The height reads “${height.value}”. Enter metres, for example 0 or 1.2.`, height);
      const channels: ChannelBody[] = [];
      for (const part of channelForms()) {
        const channel = part.read();
        if (channel instanceof Fault) return channel;
        channels.push(channel);
      }
      return { id: name, site: site.value, position, heightAboveSupplyPointM: metres, channels };
    }

    const channelForms = () => [
      pressure,
      ...further.filter((entry) => entry.wanted.checked).map((entry) => entry.settings),
    ];
    return saveForm(
      {
        button: 'Add it and show its key',
        main: true,
        read: readForm,
        send: addLogger,
        done: (logger) => {
          void connect(logger);
          return undefined;
        },
        controlAt: (place) => {
          const channel = channelForms()[Number(/channels\.(\d+)/.exec(place)?.[1])];
          return channel ? channel.controlAt(place) : named(place);
        },
      },
      el('h2', {}, '1. Its name and its house'),
      field(id, {
        label: 'Name of the logger',
        help: 'Small letters, figures, - and _. It stands in the topic it publishes to, for example front-hall.',
      }),
      field(site, { label: 'It stands in' }),
      el('h2', {}, '2. Where the transducer sits'),
      choices('Position', POSITION_CHOICES, position, (value) => {
        position = value;
      }),
      field(height, {
        label: 'Height above the boundary stop tap, metres',
        help: 'A metre of height is about 0.1 bar. Below it: a minus. If unknown, 0.',
      }),
      fittingCautions(),
      el('h2', {}, '3. What it sends'),
      pressure.element,
      ...further.map((entry) => entry.element),
    );
  }

  async function connect(logger: ResponseOf<'createLogger'>): Promise<void> {
    // The key is shown this once: whatever else can't be had now must not be in its way.
    const about = await call('about').catch((error: unknown) => error);
    const waiting = createFirstSample(context, logger.id, logger.site ?? undefined);
    stopWaiting = waiting.stop;
    replace(
      body,
      el('h2', {}, '4. Its key'),
      el(
        'p',
        {},
        `${logger.id} is added. This is its key; it is shown this once and not kept here, so copy it now. A lost key is renewed on the logger’s page.`,
      ),
      copyLine(logger.key, 'the key'),
      el('h2', {}, '5. Let it publish'),
      isAbout(about)
        ? connectGuide(logger, about, logger.key)
        : el(
            'div',
            {},
            problemNote(about),
            el('p', {}, 'What it must be told stands on its page, under How it connects.'),
          ),
      el('h2', {}, '6. The first sample'),
      waiting.element,
      el(
        'p',
        { class: 'quiet' },
        'No device at hand? ',
        el('a', { href: addressOf({ name: 'logger', loggerId: logger.id }) }, 'Import a CSV file'),
        ' on its page instead.',
      ),
    );
    scrollTo(0, 0);
    context.announce(`${logger.id} is added. Copy its key now.`);
  }

  void load();
  return {
    element,
    title: () => 'Add a logger',
    stop() {
      abort.abort();
      stopWaiting();
    },
  };
}

function isAbout(answer: unknown): answer is AboutResponse {
  return typeof answer === 'object' && answer !== null && 'broker' in answer;
}

/** Adds it; a name that is taken may be that of the first attempt, whose answer with the key was lost on its way. */
async function addLogger(body: BodyOf<'createLogger'>): Promise<ResponseOf<'createLogger'>> {
  try {
    return await call('createLogger', { body });
  } catch (error) {
    if (!(error instanceof ApiError) || error.code !== 'logger_exists') throw error;
    const hint =
      'Choose another name. If you have just added it and its key never came, open its page among the loggers and make a new key there.';
    throw new ApiError(error.status, { ...error.body, hint });
  }
}
