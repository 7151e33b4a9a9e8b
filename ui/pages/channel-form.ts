import type { BodyOf } from '../../api/contract/payloads.ts';
import { CHANNELS, type Channel } from '../../collector/model/channel.ts';
import { isRawUnit, UNITS } from '../../collector/model/units.ts';
import { el } from '../parts/element.ts';
import { field, numberInput, readNumber } from '../parts/field.ts';

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

/** How one channel is to be read: unit, range, and for volts, milliamperes and counts the transducer's two end points. */
export function createChannelForm(start: ChannelFormView): { element: HTMLElement; read(): ChannelBody | string } {
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
        field(rangeLow, { label: 'Range from, bar' }),
        field(rangeHigh, { label: 'to, bar', help: 'As printed on the transducer.' }),
        field(accuracy, { label: 'Accuracy ±, bar', help: 'Empty: 1 % of the range.' }),
      ),
  );

  return {
    element,
    read() {
      const base: ChannelBody = { channel: start.channel, unit: unit.value };
      if (!pressure) return base;
      const from = readNumber(rangeLow);
      const to = readNumber(rangeHigh);
      if (from === undefined || to === undefined || from >= to)
        return `The range reads “${rangeLow.value}” to “${rangeHigh.value}”. Enter two numbers in bar, the lower first, for example 0 and 10.`;
      const body: ChannelBody = { ...base, rangeBar: [from, to] };
      const limit = readNumber(accuracy);
      if (accuracy.value.trim() !== '' && (limit === undefined || limit <= 0))
        return `The accuracy reads “${accuracy.value}”. Enter bar, for example 0.1, or leave it empty.`;
      if (limit !== undefined) body.accuracyBar = limit;
      if (!isRawUnit(unit.value)) return body;
      const raw = [lowRaw, lowBar, highRaw, highBar].map(readNumber);
      const [low, lowP, high, highP] = raw;
      if (low === undefined || lowP === undefined || high === undefined || highP === undefined || low === high)
        return 'The end points need four numbers, and two different raw values. The transducer’s data sheet names them.';
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
