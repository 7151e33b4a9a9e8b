import type { BodyOf } from '../../api/contract/payloads.ts';
import { CHANNELS, type Channel } from '../../collector/model/channel.ts';
import { isRawUnit, UNITS } from '../../collector/model/units.ts';
import { el } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';
import { anyTouched, type ControlAt, controlsByName, Fault } from '../parts/form-report.ts';
import { isTouched, showSaved } from '../parts/kept-value.ts';

export type ChannelBody = NonNullable<BodyOf<'createLogger'>['channels']>[number];

/** Usual spans of transducers, offered when a raw unit is chosen: common practice, no source. */
const USUAL_ENDS: Record<string, readonly [number, number]> = {
  V: [0.5, 4.5],
  mV: [500, 4500],
  mA: [4, 20],
  counts: [0, 1023],
};
const UNIT_WORDS: Record<string, string> = {
  V: 'V (volts of the transducer)',
  mV: 'mV (millivolts of the transducer)',
  mA: 'mA (4 to 20 mA loop)',
  counts: 'counts (raw steps of a converter)',
  mH2O: 'mH2O (metres of water)',
};
const CHANNEL_WORDS: Record<Channel, string> = {
  pressure: 'Pressure',
  flow: 'Flow',
  pump: 'Pump, on or off',
  temperature: 'Temperature',
  battery: 'Battery',
  signal: 'Signal',
};

export interface ChannelFormView {
  readonly channel: Channel;
  readonly unit: string;
  readonly rangeBar?: readonly [number, number] | undefined;
  readonly accuracyBar?: number | undefined;
  readonly endPoints?: readonly [{ raw: number; bar: number }, { raw: number; bar: number }] | undefined;
}

export interface ChannelForm {
  readonly element: HTMLElement;
  readonly channel: Channel;
  read(): ChannelBody | Fault;
  /** Whether it differs from what is saved. */
  touched(): boolean;
  update(saved: ChannelFormView): void;
  readonly controlAt: ControlAt;
}

/** How one channel is to be read: unit, range, and for volts, milliamperes and counts the transducer's two end points. */
export function createChannelForm(start: ChannelFormView): ChannelForm {
  const unit = el(
    'select',
    {},
    ...UNITS[start.channel].map((name) =>
      el('option', { value: name, selected: name === start.unit }, UNIT_WORDS[name] ?? name),
    ),
  );
  const rangeLow = numberInput(start.rangeBar?.[0] ?? 0);
  const rangeHigh = numberInput(start.rangeBar?.[1] ?? 10);
  const accuracy = numberInput(start.accuracyBar);
  const lowRaw = numberInput(start.endPoints?.[0].raw);
  const lowBar = numberInput(start.endPoints?.[0].bar ?? 0);
  const highRaw = numberInput(start.endPoints?.[1].raw);
  const highBar = numberInput(start.endPoints?.[1].bar ?? start.rangeBar?.[1] ?? 10);
  const ends = el(
    'div',
    {},
    el(
      'p',
      { class: 'help' },
      'What the transducer gives at two pressures; its data sheet names them, for example 0.5 V at 0 bar and 4.5 V at 10 bar.',
    ),
    el(
      'div',
      { class: 'fields' },
      field(lowRaw, { label: 'Low end, as sent' }),
      field(lowBar, { label: 'is this pressure, bar' }),
    ),
    el(
      'div',
      { class: 'fields' },
      field(highRaw, { label: 'High end, as sent' }),
      field(highBar, { label: 'is this pressure, bar' }),
    ),
  );
  const pressure = start.channel === 'pressure';
  const showEnds = () => {
    ends.hidden = !(pressure && isRawUnit(unit.value));
    const usual = USUAL_ENDS[unit.value];
    if (ends.hidden || !usual) return;
    if (lowRaw.value === '') lowRaw.value = String(usual[0]);
    if (highRaw.value === '') highRaw.value = String(usual[1]);
  };
  unit.addEventListener('change', () => {
    lowRaw.value = '';
    highRaw.value = '';
    showEnds();
  });
  showEnds();

  const element = el(
    'div',
    {},
    field(unit, {
      label: `${CHANNEL_WORDS[start.channel]} is sent in`,
      help: pressure ? 'Gauge pressure: nought in the open air.' : undefined,
    }),
    pressure && ends,
    pressure &&
      el(
        'div',
        { class: 'fields' },
        field(rangeLow, { label: 'Range from, bar', help: 'Mostly 0.' }),
        field(rangeHigh, { label: 'to, bar', help: 'As printed on the transducer.' }),
        field(accuracy, { label: 'Accuracy ±, bar', help: 'Empty: 1 % of the range.' }),
      ),
  );

  const named = controlsByName({ unit, accuracyBar: accuracy, rangeBar: rangeLow });
  const controls = [unit, rangeLow, rangeHigh, accuracy, lowRaw, lowBar, highRaw, highBar];
  return {
    element,
    channel: start.channel,
    touched: () => anyTouched(...controls),
    update(saved) {
      showSaved(unit, saved.unit);
      if (!pressure) return;
      showSaved(rangeLow, String(saved.rangeBar?.[0] ?? 0));
      showSaved(rangeHigh, String(saved.rangeBar?.[1] ?? 10));
      showSaved(accuracy, String(saved.accuracyBar ?? ''));
      if (!saved.endPoints) return;
      showSaved(lowRaw, String(saved.endPoints[0].raw));
      showSaved(lowBar, String(saved.endPoints[0].bar));
      showSaved(highRaw, String(saved.endPoints[1].raw));
      showSaved(highBar, String(saved.endPoints[1].bar));
    },
    controlAt(place) {
      const [, end, name] = /endPoints(?:\.(\d))?(?:\.(raw|bar))?$/.exec(place) ?? [];
      if (/endPoints/.test(place)) {
        if (end === '1') return name === 'bar' ? highBar : highRaw;
        return name === 'bar' ? lowBar : lowRaw;
      }
      return /rangeBar\.1$/.test(place) ? rangeHigh : named(place);
    },
    read() {
      const base: ChannelBody = { channel: start.channel, unit: unit.value };
      if (!pressure) return base;
      const from = readNumber(rangeLow);
      const to = readNumber(rangeHigh);
      if (from === undefined || to === undefined || from >= to)
        return new Fault(
          `The range reads “${rangeLow.value}” to “${rangeHigh.value}”. Enter two numbers in bar, the lower first, for example 0 and 10.`,
          from === undefined || (to !== undefined && isTouched(rangeLow)) ? rangeLow : rangeHigh,
        );
      const body: ChannelBody = { ...base, rangeBar: [from, to] };
      const limit = readNumber(accuracy);
      if (accuracy.value.trim() !== '' && (limit === undefined || limit <= 0))
        return new Fault(
          `The accuracy reads “${accuracy.value}”. Enter bar, for example 0.1, or leave it empty.`,
          accuracy,
        );
      if (limit !== undefined) body.accuracyBar = limit;
      if (!isRawUnit(unit.value)) return body;
      const ends = [lowRaw, lowBar, highRaw, highBar];
      const [low, lowP, high, highP] = ends.map(readNumber);
      if (low === undefined || lowP === undefined || high === undefined || highP === undefined || low === high)
        return new Fault(
          'The end points need four numbers, and two different raw values. The transducer’s data sheet names them.',
          ends.find((input) => readNumber(input) === undefined) ?? highRaw,
        );
      return {
        ...body,
        endPoints: [
          { raw: low, bar: lowP },
          { raw: high, bar: highP },
        ],
      };
    },
  };
}

export const FURTHER_CHANNELS = CHANNELS.filter((channel) => channel === 'flow' || channel === 'pump');
