/** One assessment of readiness for a test: read -> assess -> answer -> record -> return. */
import { createHash } from 'node:crypto';
import type { Assessment, AssessmentAnswer, ReadinessGaps } from './assessment.ts';
import { RequestError } from './errors.ts';
import { type Asked, asOfFor, type EvaluateDeps, requirePanel } from './evaluate.ts';
import { isOfCaution, type LocalCodes } from './fhir/local-codes.ts';
import { readCautions } from './fhir/read-cautions.ts';
import type { AsOf } from './fhir/read-observation.ts';
import { type ReadPatient, readPatient } from './fhir/read-patient.ts';
import type { Placed } from './fhir/read-request.ts';
import { latestDayOf } from './interpret/age.ts';
import { HANDS } from './interpret/measurement.ts';
import { assessReadiness, type GripSession, type ReadinessInput } from './interpret/readiness.ts';
import { readInput } from './read-input.ts';
import type { AppliedPanel, CautionsRule } from './reference/library.ts';

export interface AssessmentInput {
  readonly patient: Placed;
  /** Conditions, Procedures, Devices, and Observations of lines. */
  readonly records: readonly (Placed & { readonly resourceType: string })[];
  /** Grip measurements and handedness. */
  readonly observations: readonly Placed[];
  /** Null: the installation's default panel. */
  readonly panelId: string | null;
  /** Prefetch keys that could not be had, or that go on. */
  readonly missing: readonly string[];
  readonly more: readonly string[];
  /** Whether charted lines were asked for. */
  readonly asksForLines: boolean;
}

/**
 * @param answer writes the reply; it must be a pure function of the assessment
 * @returns the reply as JSON text, after its record is on disk
 * @throws RequestError for a bad request, NOT_RECORDED when the record cannot be written
 */
export async function assess(
  deps: EvaluateDeps,
  asked: Asked,
  input: AssessmentInput,
  answer: (assessment: Assessment) => AssessmentAnswer,
): Promise<string> {
  const started = performance.now();
  const now = deps.now();
  const panel = requirePanel(deps, input.panelId, 'request.extension');
  const rule = deps.library.findCautions();
  if (!rule) throw new Error('norms/ has no rule of cautions before a test');
  const read = readAssessment(input, { deps, panel, rule, now });
  const assessment: Assessment = {
    id: deps.newId(),
    at: now.toISOString(),
    engine: deps.engine,
    panel,
    rule,
    ...read,
    readiness: assessReadiness(read.input, rule, panel.panel.rules),
  };
  const { body, returned } = answer(assessment);
  const reply = JSON.stringify(body);
  await record(deps, asked, assessment, {
    returned: { ...returned, sha256: createHash('sha256').update(reply, 'utf8').digest('hex') },
    durationMs: Math.round((performance.now() - started) * 1000) / 1000,
  });
  return reply;
}

interface Reading {
  readonly deps: EvaluateDeps;
  readonly panel: AppliedPanel;
  readonly rule: CautionsRule;
  readonly now: Date;
}

function readAssessment(
  input: AssessmentInput,
  { deps, panel, rule, now }: Reading,
): Pick<Assessment, 'patient' | 'input' | 'gaps' | 'deceased' | 'localCodes'> {
  const { localCodes } = deps;
  const patient = readPatient(input.patient.resource, input.patient.expression, input.patient);
  const asOf = asOfFor(null, now);
  const today = now.toISOString().slice(0, 10);
  const { cautions, unusable } = readCautions(input.records, { patient, rule, asOf, today, localCodes });
  const { gaps, ...grip } = readGrip(input, asOf, panel, localCodes);
  const age = patient.ageOn(today);
  const usesMap = cautions.some(({ codes }) => codes.some(({ local }) => local !== undefined));
  return {
    patient: patient.reference,
    input: {
      today,
      cautions,
      ...grip,
      ...('refusal' in age ? {} : { ageYears: age.ageAtMost ?? age.ageYears }),
    },
    gaps: {
      missing: input.missing,
      more: input.more,
      unmapped: unmappedOf(rule, input.asksForLines ? localCodes : undefined),
      unusable,
      ...gaps,
    },
    deceased: isDeceased(patient),
    ...(usesMap && localCodes ? { localCodes: localCodes.ref } : {}),
  };
}

function isDeceased({ resource }: ReadPatient): boolean {
  return resource.deceasedBoolean === true || resource.deceasedDateTime !== undefined;
}

type GripRead = Pick<ReadinessInput, 'dominant' | 'sessions'> & {
  readonly gaps: Pick<ReadinessGaps, 'gripMalformed' | 'gripUnused' | 'gripUnusedNewest'>;
};

/**
 * A malformed measurement must not cost what is said of the arms: it is said that none could be read.
 * @throws RequestError PATIENT_MISMATCH
 */
function readGrip(
  { patient, observations, missing }: AssessmentInput,
  asOf: AsOf,
  panel: AppliedPanel,
  localCodes: LocalCodes | undefined,
): GripRead {
  const request = { patient, observations, prior: [], devices: [], panelId: null, asOf: null };
  try {
    const { input, refusals } = readInput({ ...request, scope: 'latest-session' }, asOf, panel, localCodes);
    const sessions = input.sessions.map(({ testedOn, trials, charted = [] }): GripSession => {
      const figures = [...trials, ...charted];
      return { testedOn, hands: HANDS.filter((hand) => figures.some((figure) => figure.hand === hand)) };
    });
    const unused = refusals.filter(({ code }) => !NO_MEASUREMENT.has(code));
    const newest = newestDayOf(observations, unused);
    return {
      ...(input.dominant ? { dominant: input.dominant } : {}),
      sessions: missing.includes('grip') ? null : sessions,
      gaps: { gripUnused: unused.length, ...(newest ? { gripUnusedNewest: newest } : {}) },
    };
  } catch (fault) {
    if (!(fault instanceof RequestError) || fault.code !== 'BODY_INVALID') throw fault;
    return { sessions: null, gaps: { gripMalformed: true, gripUnused: 0 } };
  }
}

/** `YYYY-MM-DD` of the newest measurement that could not be used, where one says its day. */
function newestDayOf(
  observations: readonly Placed[],
  unused: readonly { readonly expression: string | null }[],
): string | undefined {
  const days = observations.flatMap(({ resource, expression }) => {
    const isUnused = unused.some(({ expression: at }) => `${at}.`.startsWith(`${expression}.`));
    const { effectiveDateTime: at } = resource as { readonly effectiveDateTime?: unknown };
    const day = typeof at === 'string' ? at.slice(0, 10) : '';
    return isUnused && day.length === 10 && latestDayOf(day) ? [day] : [];
  });
  return days.sort().at(-1);
}

/** Refusals of what is no measurement of grip, or is one that is there all the same. */
const NO_MEASUREMENT: ReadonlySet<string> = new Set([
  'CODE_NOT_GRIP',
  'LOCAL_CODE_UNKNOWN',
  'RESULT_LEFT_ASIDE',
  'DUPLICATE_OBSERVATION',
  'VALUE_ABSENT',
  'MEASURE_NOT_USABLE',
]);

/** Cautions that no standard code of the rule means, and that the site maps no code to. */
function unmappedOf({ cautions }: CautionsRule, localCodes: LocalCodes | undefined): readonly string[] {
  const mapped = new Set((localCodes?.all ?? []).filter(isOfCaution).map(({ target }) => target.code));
  return cautions.filter(({ id, codes }) => codes.length === 0 && !mapped.has(id)).map(({ id }) => id);
}

async function record(
  { store }: EvaluateDeps,
  asked: Asked,
  assessment: Assessment,
  rest: {
    readonly returned: AssessmentAnswer['returned'] & { readonly sha256: string };
    readonly durationMs: number;
  },
): Promise<void> {
  const { id, patient, panel, rule, at, engine, input, gaps, deceased, localCodes, readiness } = assessment;
  const content = {
    asked,
    at,
    engine,
    panel: panel.panel.ref,
    rule: rule.ref,
    valueSets: rule.valueSets,
    input,
    gaps,
    deceased,
    localCodes,
    findings: readiness,
    ...rest,
  };
  const names = rest.returned.cards.map(({ uuid }) => uuid);
  try {
    await store.append({ id, kind: 'readiness', patient, content, names });
  } catch (cause) {
    throw new RequestError('NOT_RECORDED', [], { cause });
  }
}
