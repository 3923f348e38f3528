/** What stands against a result, and what was not read: the lines of a card that say so, each reason once. */
import type { Evaluation } from '../evaluation.ts';
import type { Caution, Interpretation, Refusal } from '../interpret/finding.ts';
import { type CautionContext, cautionInShort, cautionSentence } from '../wording/caution-statements.ts';
import { handNotTested, reasonsFor } from '../wording/chart-sentence.ts';
import { earlierFigures } from '../wording/earlier-figures.ts';
import { REFUSALS } from '../wording/refusals.ts';
import { UNIT_CAUTIONS, verdictsIn } from '../wording/session-statements.ts';
import { capital, lowerFirst, refusalSentence } from '../wording/statements.ts';
import { mismatchSentence } from '../wording/verdict-statements.ts';

/** They put every result in doubt, so they stand above the results. */
export function unitDoubtLines(evaluation: Evaluation, interpretation: Interpretation): readonly string[] {
  const contextOf = contextsOf(evaluation, interpretation);
  return interpretation.cautions
    .filter(({ code }) => UNIT_CAUTIONS.has(code))
    .map((caution) => cautionSentence(caution, contextOf(caution)));
}

function contextsOf(evaluation: Evaluation, interpretation: Interpretation) {
  const earlier = earlierFigures(evaluation, interpretation);
  const unit = interpretation.summaries[0]?.charted.unit;
  return ({ hand }: Caution): CautionContext => ({ before: earlier(hand), unit });
}

export function cautionLines(evaluation: Evaluation, interpretation: Interpretation): readonly string[] {
  const refused = interpretation.results.filter((result) => result.kind === 'refusal');
  const open = refused.filter(({ columns }) => columns.length > 0);
  const untested = untestedHands(evaluation, interpretation);
  const trials = [...refused.filter(({ trial }) => trial !== null), ...evaluation.refusals].filter(
    ({ code, hand, facts }) => !(code === 'VALUE_ABSENT' && facts.reason && hand && untested.has(hand)),
  );
  const contextOf = contextsOf(evaluation, interpretation);
  return [
    ...new Set(open.map(refusalSentence)),
    ...refusalLines(trials.filter(({ code }) => !NOT_OF_TRIALS.has(code))),
    // An old chart can hold many measures that are of no use: each reason is said once.
    ...new Set(trials.filter(({ code }) => code === 'MEASURE_NOT_USABLE').map(refusalSentence)),
    ...mismatchLines(evaluation, interpretation),
    ...interpretation.cautions
      .filter(({ code }) => code !== 'MASS_UNIT_READ_AS_FORCE' && !UNIT_CAUTIONS.has(code))
      .map((caution) =>
        caution.code === 'HAND_NOT_TESTED' && caution.hand && untested.has(caution.hand)
          ? `${handNotTested(caution.hand, interpretation, evaluation.refusals)} The highest of either hand is provisional.`
          : cautionInShort(caution, contextOf(caution)),
      ),
  ];
}

/** Hands without a reading for a charted reason: one line says it, not one for the reason and one for the hand. */
function untestedHands(
  { refusals }: Evaluation,
  interpretation: Interpretation,
): ReadonlySet<Caution['hand']> {
  const hands = interpretation.cautions.flatMap(({ code, hand }) =>
    code === 'HAND_NOT_TESTED' ? [hand] : [],
  );
  return new Set(hands.filter((hand) => reasonsFor(hand, interpretation, refusals).length > 0));
}

/** Not worth a line of their own: other Observations, what came twice, and measures (said below). */
const NOT_OF_TRIALS: ReadonlySet<string> = new Set([
  'CODE_NOT_GRIP',
  'LOCAL_CODE_UNKNOWN',
  'RESULT_LEFT_ASIDE',
  'DUPLICATE_OBSERVATION',
  'MEASURE_NOT_USABLE',
]);

/** References that a line names: enough to find the others. */
const MOST_NAMED = 2;

/** Trials of a hand that were refused for the same reason share a line. */
export function refusalLines(refusals: readonly Refusal[]): readonly string[] {
  const alike = new Map<string, Refusal[]>();
  for (const refusal of refusals) {
    const key = `${refusal.hand} ${refusalSentence(refusal)}`;
    alike.set(key, [...(alike.get(key) ?? []), refusal]);
  }
  return [...alike.values()].map(refusalLine);
}

function refusalLine(alike: readonly Refusal[]): string {
  const [first] = alike;
  if (!first) return '';
  const count = alike.length > 1 ? `${alike.length} trials` : '';
  const who = [first.hand ? `${first.hand} hand` : '', count].filter(Boolean).join(', ');
  return `${who ? `${capital(who)}: ` : ''}${plainSentence(first)}${namesOf(alike)}`;
}

/** A unit that is not coded, for who charts: the codes that the record must carry stand on the page. */
function plainSentence(refusal: Refusal): string {
  const { code, facts } = refusal;
  if (code === 'UNIT_MISSING')
    return 'Not used: the unit was not charted in a form that is read, and a unit is never guessed. Chart the reading again with its unit (kg, lb or N).';
  if (code === 'UNIT_UNKNOWN')
    return `Not used: the unit ${facts.unit ? `"${facts.unit}" ` : ''}does not come in a form that is read as kg, lb or N, and a unit is never guessed.${/^(?:lbs?|pounds?)$/i.test(facts.unit ?? '') ? ' Pounds have the code [lb_av]: who looks after the chart can set it.' : ''}`;
  return refusalSentence(refusal);
}

/** Where the record has to be corrected, which entries; what was charted as not done needs no finding. */
function namesOf(refusals: readonly Refusal[]): string {
  const wrong = refusals.filter(({ code, facts }) => !(code === 'VALUE_ABSENT' && facts.reason));
  const names = wrong.flatMap(({ code, trial }) =>
    trial !== null && REFUSALS[code].severity !== 'information' ? [trial] : [],
  );
  if (names.length === 0) return '';
  const more = names.length > MOST_NAMED ? ` and ${names.length - MOST_NAMED} more` : '';
  return ` (${names.slice(0, MOST_NAMED).join(', ')}${more})`;
}

/** Sets that were built otherwise in the same way share a line. */
function mismatchLines({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titles = new Map<string, Set<string>>();
  for (const verdict of interpretation.results.flatMap(verdictsIn)) {
    for (const mismatch of verdict.mismatches ?? []) {
      const said = mismatchSentence(mismatch, panel);
      titles.set(said, (titles.get(said) ?? new Set()).add(panel.describe(verdict.set).shortTitle));
    }
  }
  return [...titles].map(([said, sets]) => `${[...sets].join(', ')}: ${said}`);
}

/** Sets that give the same reason share a line. */
export function notApplied({ panel }: Evaluation, interpretation: Interpretation): readonly string[] {
  const titlesByReason = new Map<string, Set<string>>();
  for (const result of interpretation.results) {
    if (result.kind === 'verdict' || !result.set || result.columns.length > 0) continue;
    const { shortTitle, ageReason } = panel.describe(result.set);
    const reason = whyNot(result, ageReason !== null, nextTitle(result, panel));
    titlesByReason.set(reason, (titlesByReason.get(reason) ?? new Set()).add(shortTitle));
  }
  return [...titlesByReason].map(([reason, titles]) => `${[...titles].join(', ')}: ${reason}`);
}

/** Title of the table of the panel that covers the age; undefined where there is none. */
function nextTitle(
  { facts: { next, nextVersion } }: Refusal,
  panel: Evaluation['panel'],
): string | undefined {
  return next && nextVersion ? panel.describe({ id: next, version: nextVersion }).shortTitle : undefined;
}

/** The panel's reasons for its ages are long: they stand on the page of the evaluation. */
function whyNot(refusal: Refusal, isPanelsAge: boolean, next: string | undefined): string {
  const { covers } = refusal.facts;
  const hand = refusal.hand ? `${refusal.hand} hand: ` : '';
  if (!covers) return `${hand}${lowerFirst(refusalSentence(refusal).replace(/^Not applied: /, ''))}`;
  return `read for ${covers}${isPanelsAge ? ' by this panel' : ''}.${next ? ` For this age see ${next}.` : ''}`;
}
