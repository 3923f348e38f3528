/** What the CDS Hooks services say about themselves (CDS Hooks 2.0.1, discovery). */
import {
  CANONICAL,
  GRIP_CODES,
  GRIP_LOINC,
  GRIP_SNOMED,
  type GripCode,
  HANDEDNESS_SNOMED,
  LOINC,
  MEASURE_CODES,
  SNOMED,
} from '../fhir/codes.ts';
import type { LocalCode, LocalCodes } from '../fhir/local-codes.ts';

/** One entry of the discovery answer. */
export interface ServiceDescription {
  readonly id: string;
  readonly hook: string;
  readonly title: string;
  readonly description: string;
  readonly prefetch: Readonly<Record<string, string>>;
  readonly usageRequirements: string;
}

/** Keys without which a service cannot answer; the others are optional. */
export const REQUIRED_KEYS: readonly string[] = ['patient', 'grip'];

const GRIP_CODE_LIST = [
  `${LOINC}|${GRIP_LOINC.right}`,
  `${LOINC}|${GRIP_LOINC.left}`,
  `${SNOMED}|${GRIP_SNOMED}`,
];

/** Observations asked for: more than a year of monthly sessions of six trials. */
const GRIP_COUNT = 100;

/** Targets of a site's map that are figures of grip in an Observation of their own. */
const FIGURE_TARGETS: ReadonlySet<string> = new Set([
  ...GRIP_CODE_LIST,
  ...(['grip-trial', 'mean-per-hand', 'highest-per-hand'] satisfies GripCode[]).map(
    (code) => `${GRIP_CODES}|${code}`,
  ),
]);

/** Grip by the standard codes, and by those of its own that a site maps to them. */
export function gripTemplate(localCodes?: LocalCodes): string {
  const local = siteTokens(localCodes, ({ target }) => FIGURE_TARGETS.has(`${target.system}|${target.code}`));
  return `Observation?patient={{context.patientId}}&code=${[...GRIP_CODE_LIST, ...local].join(',')}&_sort=-date&_count=${GRIP_COUNT}`;
}

/**
 * Search tokens of a site's own codes; none of the shipped example's, which are nobody's. A comma, a bar, a dollar or a
 * backslash within a code is escaped as FHIR R4 search says, and what a URL does not allow is percent-encoded.
 */
export function siteTokens(
  localCodes: LocalCodes | undefined,
  isWanted: (code: LocalCode) => boolean,
): readonly string[] {
  if (!localCodes || localCodes.ref.url.startsWith(`${CANONICAL}/`)) return [];
  const part = (text: string) =>
    encodeURIComponent(text.replace(/[\\|,$]/g, '\\$&'))
      .replace(/%3A/g, ':')
      .replace(/%2F/g, '/');
  return localCodes.all.filter(isWanted).map(({ system, code }) => `${part(system)}|${part(code)}`);
}

/** Optional keys. What is charted seldom has a key of its own: a daily weight would push it off the page. */
export const MEASURE_KEYS = ['height', 'handedness', 'measures'] as const;

const { height: HEIGHT, ...OTHERS } = MEASURE_CODES;
/** Weight, body mass index, gait speed, five chair rises. */
const MEASURE_CODE_LIST = Object.values(OTHERS).map(({ system, code }) => `${system}|${code}`);

/** Observations asked for: more than the three months in which they are used, of a weight a day. */
const MEASURE_COUNT = 100;
const SELDOM_COUNT = 5;

export const HANDEDNESS_TEMPLATE = `Observation?patient={{context.patientId}}&code=${SNOMED}|${HANDEDNESS_SNOMED}&_sort=-date&_count=${SELDOM_COUNT}`;

/** Member of the `extension` of a call that names the panel; not given: the installation's own. */
export const PANEL_EXTENSION = 'example.grip-strength-cds.panel';

export const GRIP_INTERPRETATION: ServiceDescription = {
  id: 'grip-interpretation',
  hook: 'patient-view',
  title: 'Grip strength: what the last measurement means',
  description:
    'Reads the most recent session of grip strength trials against versioned norms and consensus cut-points, set by set, ' +
    'and offers the interpretation for filing. One item of a nutrition assessment; it diagnoses nothing.',
  prefetch: {
    patient: 'Patient/{{context.patientId}}',
    grip: gripTemplate(),
    height: `Observation?patient={{context.patientId}}&code=${HEIGHT.system}|${HEIGHT.code}&_sort=-date&_count=${SELDOM_COUNT}`,
    handedness: HANDEDNESS_TEMPLATE,
    measures: `Observation?patient={{context.patientId}}&code=${MEASURE_CODE_LIST.join(',')}&_sort=-date&_count=${MEASURE_COUNT}`,
  },
  usageRequirements:
    'The prefetch keys patient and grip are required. Grip strength is charted as one Observation for each trial, as a component for each, ' +
    'or as the mean or highest of each hand, with a UCUM unit and the hand. ' +
    'The keys height, handedness and measures are optional: height, weight and body mass index let the sets that ask for them be read, ' +
    'gait speed and five chair rises answer what some sets go on to ask, and handedness says which hand is dominant. ' +
    'Posture, arm, handle and instrument are read from the trials; a Device only where it is contained in one. ' +
    `The member ${PANEL_EXTENSION} of the extension names another panel of the installation.`,
};

/**
 * The same reading, and what matters when the stay ends.
 * @param reading whose prefetch is asked for too
 */
export function gripInterpretationDischarge(reading: ServiceDescription): ServiceDescription {
  return {
    id: 'grip-interpretation-discharge',
    hook: 'encounter-discharge',
    title: 'Grip strength at discharge: measured in this stay, and when next',
    description:
      'Says whether grip strength was measured during the stay that ends, how it changed from the first measurement of the stay to the last, ' +
      'and when the next is due by the panel, so that it can be handed over; and reads the most recent session like grip-interpretation.',
    prefetch: { ...reading.prefetch, encounter: 'Encounter/{{context.encounterId}}' },
    usageRequirements: `${reading.usageRequirements} The key encounter is optional: without it, or without a start of its period, the card cannot say which measurements belong to the stay.`,
  };
}

/** Key of the measurements charted before: those just charted come in the context. */
export const EARLIER_KEY = 'earlier';

/**
 * @param hook reverse-domain name of the organisation's own hook for a measurement that was just charted
 * @param reading whose prefetch is asked for too
 */
export function gripInterpretationCharted(hook: string, reading: ServiceDescription): ServiceDescription {
  const { patient, grip, ...measures } = reading.prefetch;
  return {
    id: 'grip-interpretation-charted',
    hook,
    title: 'Grip strength just charted: what it means',
    description:
      'Reads the session of grip strength trials that was just charted, given in the context, beside the earlier ones of the record. ' +
      'One item of a nutrition assessment; it diagnoses nothing.',
    prefetch: { patient: patient ?? '', [EARLIER_KEY]: grip ?? '', ...measures },
    usageRequirements:
      'context.observations is required: a Bundle of type collection with the Observations just charted, as the record holds them. ' +
      'The prefetch key patient is required; earlier, height, handedness and measures are optional. ' +
      `Grip strength is charted as for grip-interpretation. The member ${PANEL_EXTENSION} of the extension names another panel of the installation.`,
  };
}

/** The same for a site whose ConceptMap translates codes of its own. */
export function describeGripInterpretation(localCodes?: LocalCodes): ServiceDescription {
  const { prefetch } = GRIP_INTERPRETATION;
  return { ...GRIP_INTERPRETATION, prefetch: { ...prefetch, grip: gripTemplate(localCodes) } };
}
