/** A session that was stopped for its unit, with what its sentence may say besides: other readings, the earlier figure. */
import type { Interpretation } from '../interpret/finding.ts';
import type { InterpretInput } from '../interpret/interpret.ts';
import type { HandFigure } from '../interpret/measurement.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { earlierFigures } from './earlier-figures.ts';
import { forceText } from './statements.ts';

interface Read {
  readonly input: InterpretInput;
  readonly panel: AppliedPanel;
}

/** For the wording only: the finding on record stays as it was made. */
export function explainStop(read: Read, interpretation: Interpretation): Interpretation {
  const results = interpretation.results.map((result) => {
    if (result.kind !== 'refusal' || result.code !== 'UNIT_IMPLAUSIBLE' || result.trial !== null)
      return result;
    const { unit = '', previous } = result.facts;
    const readings = unlikeText(ownReadings(read, interpretation, result.hand), unit);
    const before = previous ? earlierFigures(read, interpretation)(result.hand) : undefined;
    const facts = {
      ...result.facts,
      ...(readings ? { readings: `${result.hand} hand, ${readings}` } : {}),
      ...(before && before.unit !== unit ? { before: `${forceText(before)} (${previous} ${unit})` } : {}),
    };
    return { ...result, facts };
  });
  return { ...interpretation, results };
}

function ownReadings(
  { input }: Read,
  { trials }: Interpretation,
  hand: HandFigure['hand'] | null,
): readonly string[] {
  return input.sessions
    .flatMap((session) => session.trials)
    .filter((trial) => trial.hand === hand && trials.includes(trial.reference))
    .map(({ reading }) => reading);
}

/** Squeezes of one hand in one sitting do not differ by half; pounds among kilograms do, and so does a slip of a digit. */
const UNLIKE = 1.5;

/** e.g. `85 kg beside 38 and 40 kg`; empty where the readings are alike, and then the unit of all is in question. */
function unlikeText(readings: readonly string[], unit: string): string {
  const limit = Math.min(...readings.map(Number)) * UNLIKE;
  const high = readings.filter((reading) => Number(reading) > limit);
  const others = readings.filter((reading) => Number(reading) <= limit);
  if (high.length === 0) return '';
  return `${high.join(' and ')} ${unit} beside ${others.join(' and ')} ${unit}`;
}
