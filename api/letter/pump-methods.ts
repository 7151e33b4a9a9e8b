import type { FindingsDocument } from '../analysis/findings.ts';

/** How a pump's findings were made: starts and cycling, then the rule of every ranking, state and change that is told. */
export function pumpMethods(findings: FindingsDocument): string[] {
  const { cycling, inletPull, pumpStates = [], pumpTrends = [], pumpCurve, thresholds, weakInlet } = findings;
  const rankings = cycling.flatMap(({ ranking }) => (ranking ? [`Causes of cycling. ${ranking.rule}`] : []));
  const rules = [...pumpStates, ...pumpTrends, ...(pumpCurve ? [pumpCurve] : [])].flatMap(({ rule }) =>
    rule ? [`Pump. ${rule}`] : [],
  );
  return [
    'A pump start is the last low reading before the fast rise of pressure; it is without demand when nobody has drawn water since the pump last stopped.',
    'The pump is said to cycle when at least four starts without demand follow one another within 20 minutes each, or at least four starts on demand within 15 seconds each.',
    ...new Set(rankings),
    ...new Set(rules),
    ...(weakInlet.length > 0
      ? [`The inlet is weak where it is below ${thresholds.weakInletBar} bar while the pump runs.`]
      : []),
    ...(inletPull
      ? [
          'How far the pump pulls the main is each run’s lowest reading at its inlet against the standing pressure of that moment: the straight line between what was read just before the run and after the inlet’s recovery.',
        ]
      : []),
    'What the shape of the pressure points to is an inference, not an inspection.',
  ];
}
