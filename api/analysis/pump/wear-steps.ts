import type { PumpCurveCheck } from '../findings.ts';
import { FEWEST_POINTS, FEWEST_SHOWN_RUNS } from './operating-points.ts';

/** What is known beside the pressure. Curve, inlet and flow together hold the head seen against the curve. */
export interface KnownOfPump {
  readonly curve: boolean;
  readonly inlet: boolean;
  readonly flow: boolean;
  /** The pump’s own on/off channel. */
  readonly channel: boolean;
  readonly check: PumpCurveCheck | undefined;
}

const WANTED = {
  curve: 'the maker’s curve, entered under “The pump” in the site’s settings',
  inlet: 'the pressure before the pump, from a second transducer',
  flow: 'the flow, from a meter’s channel',
} as const;

/** What is missing to tell a worn pump from one that is asked for too much, in words; empty where nothing is. */
function missing(known: KnownOfPump): string[] {
  return (['curve', 'inlet', 'flow'] as const).filter((part) => !known[part]).map((part) => WANTED[part]);
}

/** How to tell a worn pump from one of which more is drawn than it gives. Empty where the curve has settled it. */
export function wearSteps(known: KnownOfPump): string[] {
  if (known.check && known.check.verdict !== 'cannot_tell') return [];
  const parts = missing(known);
  const next =
    parts.length > 0
      ? `To tell a worn pump from one that is asked for too much, log ${andList(parts)}: the diary then holds the ` +
        'head that it gives against its curve at the same flow.'
      : `To tell a worn pump from one that is asked for too much, let one outlet run evenly for a minute, in ` +
        `${FEWEST_SHOWN_RUNS} runs or more: ${FEWEST_POINTS} readings at a steady flow and pressure are needed, and the ` +
        'more runs, the surer.';
  return [
    next,
    'By hand, with every outlet shut: a sound pump reaches its cut-out in the time it always took. With one outlet ' +
      'wide open: catch its flow in a bucket for a minute, read the pressure before and after the pump meanwhile, and ' +
      'compare the difference with the maker’s curve at that flow. Hot outlets can scald: use a cold one.',
  ];
}

/** The open question, where some run left it open and the curve doesn’t settle it. */
export function wearQuestion(known: KnownOfPump): string | undefined {
  if (known.check && known.check.verdict !== 'cannot_tell') return undefined;
  const parts = missing(known);
  const what = 'Whether the pump that ran on is worn, or more was drawn than it gives, isn’t settled';
  return parts.length > 0
    ? `${what}: ${andList(parts)}, together would tell; until then a bucket, a watch and a gauge do.`
    : `${what}: too few runs at a steady flow were logged to hold them against its curve.`;
}

/** What the curve says of a run that went on, once it says it. */
export function settledByCurve(check: PumpCurveCheck | undefined): string {
  if (!check || check.verdict === 'cannot_tell') return '';
  const share = `${Math.round(100 * check.headShare)} %`;
  return check.verdict === 'on_its_curve'
    ? ` It lifts ${share} of what its curve gives at the same flow, so more was drawn than it is made for.`
    : ` It lifts ${share} of what its curve gives at the same flow, so it is worn, clogged or turns too slowly.`;
}

function andList(parts: readonly string[]): string {
  return parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join('; ')}; and ${parts.at(-1)}`;
}
