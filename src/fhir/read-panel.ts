/** An Observation that groups others (`hasMember`): its members are read on their own; what it lacks is said. */
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { ObservationResource } from './forms.ts';
import { checkUsable, hasValue } from './read-observation.ts';
import { type Charted, hasGripComponent, isAboutGrip } from './read-trial.ts';
import { unversioned } from './reference.ts';

export function isPanel(observation: ObservationResource): boolean {
  return (observation.hasMember ?? []).length > 0 && !hasValue(observation);
}

/**
 * What a panel of grip strength lacks: one with such a code, component or member. Any other is not read.
 * @param present references of every Observation of the request, without their versions
 * @param aboutGrip those of them that are about grip strength
 */
export function readPanel(
  charted: Charted,
  present: ReadonlySet<string>,
  aboutGrip: ReadonlySet<string>,
): readonly Refusal[] {
  const { observation, expression, reference } = charted;
  const { hasMember = [] } = observation;
  const isOfGrip =
    isAboutGrip(observation) || hasMember.some((member) => isPresent(member.reference, aboutGrip));
  if (!isOfGrip) return [refuse('CODE_NOT_GRIP', { trial: reference, expression: `${expression}.code` })];
  // What is wrong with one that has trials of its own was said of them.
  const own = hasGripComponent(observation) ? [] : panelFaults(charted);
  return [...own, ...missingMembers(charted, present)];
}

/** What is wrong with the panel itself; it has no reading of its own, so it need not say whose it is. */
function panelFaults({ observation, expression, reference }: Charted): readonly Refusal[] {
  const unusable = checkUsable(observation);
  if (!unusable || unusable.code === 'SUBJECT_MISSING') return [];
  const { code, element, facts = {} } = unusable;
  return [
    refuse(code, {
      trial: reference,
      expression: `${expression}.${element}`,
      facts: { ...facts, panel: 'yes' },
    }),
  ];
}

function missingMembers(
  { observation, expression, reference }: Charted,
  present: ReadonlySet<string>,
): readonly Refusal[] {
  return (observation.hasMember ?? []).flatMap(({ reference: member = '' }, index) => {
    if (isPresent(member, present) || isOther(member)) return [];
    const facts = NAMEABLE.test(member) ? { member } : {};
    return [
      refuse('MEMBER_MISSING', {
        trial: reference,
        expression: `${expression}.hasMember[${index}]`,
        facts,
      }),
    ];
  });
}

/** R4 allows two other types as members; neither holds a figure. */
function isOther(reference: string): boolean {
  return /^(?:.*\/)?(?:QuestionnaireResponse|MolecularSequence)\//.test(reference);
}

/** A reference that names no more than an id is repeated in the answer; anything else a client sends is not. */
const NAMEABLE = /^(?:[A-Z][A-Za-z]{1,40}\/[A-Za-z0-9.-]{1,64}|urn:uuid:[0-9a-f-]{36})$/;

/** An absolute URL counts as present where its type and id are. */
export function isPresent(reference: string | undefined, present: ReadonlySet<string>): boolean {
  if (!reference) return false;
  const current = unversioned(reference);
  const relative = /^https?:\/\/.*\/(Observation\/[^/]+)$/.exec(current)?.[1];
  return present.has(current) || (relative !== undefined && present.has(relative));
}
