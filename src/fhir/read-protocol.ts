/**
 * How a trial was done, from where R4 keeps it (STANDARDS FT6 to FT8): the standard extension for the position of
 * the body, and components of our own codes. A code that is not known, and one element that says two things, count
 * as not charted.
 */
import type { ArmPosition, Posture, Protocol, Trial } from '../interpret/measurement.ts';
import {
  ARM_POSITIONS,
  BODY_POSITION_URL,
  GRIP_CODES,
  type GripCode,
  POSTURE_OF_SNOMED,
  SNOMED,
} from './codes.ts';
import type { ObservationComponent, ObservationResource } from './forms.ts';
import { codesOf, type Fault, meaningsOf, unknownModifier } from './read-observation.ts';

/**
 * @param instrument what is known of the instrument
 * @returns nothing for what is not charted; a Fault where a modifier may change what a component says
 */
export function readProtocol(
  observation: ObservationResource,
  instrument: Pick<Protocol, 'instrument' | 'calibratedOn'>,
): Pick<Trial, 'protocol' | 'ownBaseline'> | Fault {
  const modified = (observation.component ?? []).findIndex(
    ({ code, modifierExtension }) => isRead(code) && (modifierExtension ?? []).length > 0,
  );
  if (modified >= 0) return unknownModifier(`component[${modified}].modifierExtension`);
  const protocol: Protocol = withoutGaps({
    posture: postureOf(observation),
    arm: armOf(observation),
    handle: handleOf(observation),
    ...instrument,
  });
  const ownBaseline = componentsOf(observation, 'own-baseline').some(({ valueBoolean }) => valueBoolean);
  return {
    ...(Object.keys(protocol).length > 0 ? { protocol } : {}),
    ...(ownBaseline ? { ownBaseline } : {}),
  };
}

/** Without the members that are undefined. */
function withoutGaps(protocol: Protocol): Protocol {
  return Object.fromEntries(Object.entries(protocol).filter(([, value]) => value !== undefined));
}

const READ: readonly GripCode[] = ['handle-position', 'arm-position', 'own-baseline', 'trial-number'];

function isRead(code: ObservationComponent['code']): boolean {
  return codesOf(code, GRIP_CODES).some((each) => READ.some((read) => read === each));
}

function componentsOf({ component }: ObservationResource, wanted: GripCode): readonly ObservationComponent[] {
  return (component ?? []).filter(({ code }) => codesOf(code, GRIP_CODES).includes(wanted));
}

/** The one thing said; undefined when nothing is, or several. */
function single<T>(said: readonly T[]): T | undefined {
  const [first, ...others] = new Set(said);
  return others.length === 0 ? first : undefined;
}

function postureOf({ extension }: ObservationResource): Posture | undefined {
  const said = (extension ?? []).filter(({ url }) => url === BODY_POSITION_URL);
  return single(
    said.flatMap(({ valueCodeableConcept }) =>
      meaningsOf(codesOf(valueCodeableConcept, SNOMED), POSTURE_OF_SNOMED),
    ),
  );
}

function armOf(observation: ObservationResource): ArmPosition | undefined {
  const said = componentsOf(observation, 'arm-position').flatMap(({ valueCodeableConcept }) =>
    codesOf(valueCodeableConcept, GRIP_CODES),
  );
  return single(ARM_POSITIONS.filter((position) => said.includes(position)));
}

/** Positions that a handle of five has. */
const HANDLES: ReadonlySet<number> = new Set([1, 2, 3, 4, 5]);

function handleOf(observation: ObservationResource): string | undefined {
  const said = componentsOf(observation, 'handle-position').flatMap(({ valueInteger }) => valueInteger ?? []);
  return single(said.filter((position) => HANDLES.has(position)).map(String));
}

/** Of a single trial: every number charted for it. */
export function trialNumbersOf(observation: ObservationResource): readonly number[] {
  return componentsOf(observation, 'trial-number').flatMap(({ valueInteger }) => valueInteger ?? []);
}
