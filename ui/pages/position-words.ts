import type { Position } from '../../collector/model/channel.ts';
import { el } from '../parts/element.ts';
import type { Choice } from '../parts/field.ts';

export const POSITION_CHOICES: readonly Choice<Position>[] = [
  {
    value: 'incoming',
    label: 'At the incoming main',
    help: 'Just after the stop tap, before any pump. Tells the supply’s weakness from your own draws. If in doubt, this.',
  },
  { value: 'pump_inlet', label: 'Before a pump', help: 'Tells whether the pump’s inlet is starved while it runs.' },
  {
    value: 'pump_outlet',
    label: 'After a pump',
    help: 'Tells starts, cycling and what it points to. Says nothing about the street.',
  },
];

/** What can hurt somebody or the water while a transducer is fitted. */
export function fittingCautions(): HTMLElement {
  return el(
    'div',
    { class: 'caution' },
    el('p', {}, 'Before you fit a transducer:'),
    el(
      'ul',
      {},
      el(
        'li',
        {},
        'Shut the stop tap and open a tap below it until no water comes. An old stop tap may not shut or may break: know how the street’s tap is shut before you touch it.',
      ),
      el(
        'li',
        {},
        'Use only fittings and a transducer approved for drinking water, and no hose that stands full; what touches the water must not spoil it, and nothing may flow back.',
      ),
      el(
        'li',
        {},
        'Keep mains electricity away from the pipe. Supply the logger from a battery or a safe low voltage, above where water could drip. A metal pipe may serve as an earth connection: do not cut or bridge it.',
      ),
      el('li', {}, 'On old lead pipes do not disturb the pipe: ask a plumber.'),
      el(
        'li',
        {},
        'Local rules decide who may work on the pipe. Where a licensed plumber or electrician is asked for, leave it to one.',
      ),
    ),
  );
}
