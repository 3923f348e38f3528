/** The hook service `grip-test-readiness`: may this person be tested, and which arm? A call -> at most one card, on record. */
import { type AssessmentInput, assess } from '../assess.ts';
import type { Assessment, AssessmentAnswer } from '../assessment.ts';
import type { Asked } from '../evaluate.ts';
import { isOfCaution, type LocalCodes } from '../fhir/local-codes.ts';
import { askedByHook } from './asked-by-hook.ts';
import {
  gripTemplate,
  HANDEDNESS_TEMPLATE,
  PANEL_EXTENSION,
  type ServiceDescription,
  siteTokens,
} from './discovery.ts';
import { type Envelope, readEnvelope } from './envelope.ts';
import { requireFetchedUsable } from './fetch-record.ts';
import { type GatheredData, gather } from './gather.ts';
import type { HookCall } from './grip-interpretation.ts';
import { hasNextLink, readBundle, readPatientKey } from './hook-request.ts';
import { readinessCard } from './readiness-card.ts';

export const READINESS_ID = 'grip-test-readiness';

/** More than the 256 KB of other calls: a problem list and the operations of years. */
export const READINESS_LIMIT_BYTES = 1024 * 1024;

const CONDITION_COUNT = 100;
/** Procedures, Devices and charted lines. */
const RECORD_COUNT = 50;

/** Keys whose entries may be cautions. */
const RECORD_KEYS = ['conditions', 'procedures', 'devices', 'lines'] as const;
const GRIP_KEYS = ['grip', 'handedness'] as const;
const REQUIRED = ['patient'];

const patientSearch = (type: string, rest: string) => `${type}?patient={{context.patientId}}${rest}`;

/** @param localCodes of the installation: a site's own codes for grip and for lines are asked for */
export function describeReadiness(localCodes?: LocalCodes): ServiceDescription {
  const lines = siteTokens(localCodes, isOfCaution);
  return {
    id: READINESS_ID,
    hook: 'patient-view',
    title: 'Grip strength: before a test',
    description:
      'Names what in the record speaks against testing an arm, from which record of which date and what usual practice is, ' +
      'and whether the next measurement is due. It never forbids a test.',
    prefetch: {
      patient: 'Patient/{{context.patientId}}',
      conditions: patientSearch('Condition', `&_count=${CONDITION_COUNT}`),
      procedures: patientSearch('Procedure', `&_sort=-date&_count=${RECORD_COUNT}`),
      devices: patientSearch('Device', `&_count=${RECORD_COUNT}`),
      grip: gripTemplate(localCodes),
      handedness: HANDEDNESS_TEMPLATE,
      ...(lines.length > 0 ? { lines: linesTemplate(lines) } : {}),
    },
    usageRequirements:
      'Only the prefetch key patient is required; what else is missing is said on the card. ' +
      'Conditions, Procedures and Devices are read by the codes of the value sets grip-testing-* and by those that the site maps; ' +
      'lines are Observations under codes that the site maps to the code system grip-testing-caution. ' +
      'No card is given where nothing speaks against a test and none is due. ' +
      `The member ${PANEL_EXTENSION} of the extension names another panel of the installation.`,
  };
}

const linesTemplate = (tokens: readonly string[]) =>
  patientSearch('Observation', `&code=${tokens.join(',')}&_sort=-date&_count=${RECORD_COUNT}`);

/**
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerReadiness(
  service: ServiceDescription,
  { deps, caller, body }: HookCall,
): Promise<string> {
  const envelope = readEnvelope(body, service);
  const prefetch = withGivenLines(service.prefetch, envelope);
  const data = await gather(envelope, { prefetch, required: REQUIRED }, caller, deps);
  return requireFetchedUsable(data, async () => {
    const input = readReadinessData(envelope, data);
    const asked = askedByHook(
      caller,
      envelope,
      { data, required: REQUIRED },
      { service: service.id, hasMore: input.more.includes('grip') },
    );
    return assess(deps, asked, input, (assessment) => writeReadinessAnswer(assessment, asked));
  });
}

/** A client may send lines though the template is not among those asked for: the codes of the shipped example. */
function withGivenLines(
  templates: ServiceDescription['prefetch'],
  { prefetch }: Envelope,
): ServiceDescription['prefetch'] {
  return prefetch.lines === undefined ? templates : { lines: linesTemplate([]), ...templates };
}

/** @throws RequestError PREFETCH_MISSING, PATIENT_MISSING, PATIENT_MISMATCH, BODY_INVALID */
function readReadinessData(envelope: Envelope, data: GatheredData): AssessmentInput {
  const keys = Object.keys(data);
  return {
    patient: readPatientKey(envelope, data),
    records: RECORD_KEYS.flatMap((key) => readBundle(data, key)),
    observations: GRIP_KEYS.flatMap((key) => readBundle(data, key)).filter(
      ({ resourceType }) => resourceType === 'Observation',
    ),
    panelId: envelope.panelId,
    missing: keys.filter((key) => data[key]?.state === 'missing'),
    more: keys.filter((key) => hasNextLink(data, key)),
    asksForLines: keys.includes('lines'),
  };
}

/** Cards are written for clinicians: a patient or relative who views the record gets none. */
export function writeReadinessAnswer(
  assessment: Assessment,
  { user }: Pick<Asked, 'user'>,
): AssessmentAnswer {
  const isClinician = /^Practitioner(Role)?\//.test(user ?? '');
  const card = isClinician ? readinessCard(assessment) : undefined;
  const cards = card ? [card] : [];
  return {
    body: { cards },
    returned: { cards: cards.map(({ uuid, indicator, summary }) => ({ uuid, indicator, summary })) },
  };
}
