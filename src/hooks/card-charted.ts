/** What the card of the organisation's own hook says of the trials that were just charted. */
import type { Interpretation } from '../interpret/finding.ts';
import { dateText } from '../wording/statements.ts';
import type { HookFacts } from './hook-facts.ts';

/** One line where the card is not of what was just charted; empty where it is, and for every other hook. */
export function chartedLine({ trials, testedOn }: Interpretation, { charted }: HookFacts): string {
  if (charted === undefined || trials.some((reference) => isOneOf(reference, charted))) return '';
  return `What was just charted is not part of the newest session that could be read: this card is of the session of ${dateText(testedOn)}.`;
}

/** With its version, or as a component of the Observation that charted it: `Observation/a#component[0]`. */
function isOneOf(reference: string, charted: readonly string[]): boolean {
  return charted.some((each) =>
    [each, `${each}/_history/`, `${each}#`].some((name, index) =>
      index === 0 ? reference === name : reference.startsWith(name),
    ),
  );
}
