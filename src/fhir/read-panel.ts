/** An Observation that groups others (`hasMember`): its members are read on their own; what it lacks is said. */
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { ObservationResource } from './forms.ts';
import { checkUsable, hasValue } from './read-observation.ts';
import type { Charted } from './read-trial.ts';

export function isPanel(observation: ObservationResource): boolean {
  return (observation.hasMember ?? []).length > 0 && !hasValue(observation);
}

/** @param present references of every Observation of the request, without their versions */
export function readPanel(charted: Charted, present: ReadonlySet<string>): readonly Refusal[] {
  const { observation, expression, reference } = charted;
  const unusable = checkUsable(observation);
  // It has no reading of its own: nothing of a person's is taken from it.
  const faults = unusable && unusable.code !== 'SUBJECT_MISSING' ? [unusable] : [];
  return [
    ...faults.map(({ code, element, facts = {} }) =>
      refuse(code, {
        trial: reference,
        expression: `${expression}.${element}`,
        facts: { ...facts, panel: 'yes' },
      }),
    ),
    ...(observation.hasMember ?? []).flatMap((member, index) => {
      if (isPresent(member.reference, present)) return [];
      const facts = NAMEABLE.test(member.reference ?? '') ? { member: member.reference ?? '' } : {};
      return [
        refuse('MEMBER_MISSING', {
          trial: reference,
          expression: `${expression}.hasMember[${index}]`,
          facts,
        }),
      ];
    }),
  ];
}

/** A reference that names no more than an id is repeated in the answer; anything else a client sends is not. */
const NAMEABLE = /^(?:[A-Z][A-Za-z]{1,40}\/[A-Za-z0-9.-]{1,64}|urn:uuid:[0-9a-f-]{36})$/;

/** An absolute URL counts as present where its type and id are. */
function isPresent(reference: string | undefined, present: ReadonlySet<string>): boolean {
  if (!reference) return false;
  const unversioned = reference.replace(/\/_history\/[^/]+$/, '');
  const relative = /^https?:\/\/.*\/(Observation\/[^/]+)$/.exec(unversioned)?.[1];
  return present.has(unversioned) || (relative !== undefined && present.has(relative));
}
