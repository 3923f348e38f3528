/**
 * One record of a chart -> the cautions that it means. A record that cannot be read costs itself, not the whole answer:
 * it is said that it could not be read. Another patient's record stops the call.
 */
import type { z } from 'zod';
import { RequestError } from '../errors.ts';
import { latestDayOf } from '../interpret/age.ts';
import type { Hand } from '../interpret/measurement.ts';
import type {
  CautionRead,
  CautionType,
  PastAs,
  TestingCautions,
  UnusableRecord,
} from '../interpret/testing-caution.ts';
import { GRIP_CAUTIONS, ICD10CM } from './caution-codes.ts';
import { codedForm, conditionForm, lineDeviceForm, procedureForm } from './caution-forms.ts';
import {
  type DateRead,
  dateOfCondition,
  dateOfProcedure,
  NO_DATE,
  pastAsOf,
  type RecordState,
  stateOfCondition,
  stateOfDevice,
  stateOfProcedure,
} from './caution-states.ts';
import { HAND_STRUCTURE, SIDE_OF_SNOMED, SNOMED } from './codes.ts';
import { type CodeableConcept, isModified } from './forms.ts';
import { isOfCaution, type LocalCodes } from './local-codes.ts';
import { type AsOf, codesOf, meaningsOf } from './read-observation.ts';
import type { ReadPatient } from './read-patient.ts';
import type { Placed } from './read-request.ts';

export interface CautionContext {
  readonly patient: ReadPatient;
  readonly rule: TestingCautions;
  readonly asOf: AsOf;
  /** `YYYY-MM-DD`. */
  readonly today: string;
  readonly localCodes?: LocalCodes | undefined;
}

export type CautionResult = CautionRead | UnusableRecord;

/** What Condition, Procedure and Device have in common for this purpose. */
interface Coded {
  readonly type: CautionType;
  readonly reference: string;
  readonly concept: CodeableConcept;
  readonly sites: readonly CodeableConcept[];
  readonly state: RecordState;
  readonly pastAs?: PastAs | undefined;
  readonly when: DateRead;
  readonly hasSubject: boolean;
  readonly modified: boolean;
}

/** @throws RequestError PATIENT_MISMATCH */
export function readCaution(
  placed: Placed,
  type: CautionType,
  context: CautionContext,
): readonly CautionResult[] {
  requireOwnRecord(placed, type, context.patient);
  const coded = codedOf(placed, type, context);
  if (!coded) return mayMean(placed, type, context) ? [unusable(placed, type, 'malformed')] : [];
  const meanings = meaningsFor(coded, context);
  if (coded.state === 'ignored') return [];
  if (meanings.size === 0) return isUncoded(coded, context) ? [unusable(placed, type, 'uncoded')] : [];
  const why = whyUnusable(coded, context);
  if (why) return [{ type, reference: coded.reference, why }];
  const { site, siteUnread } = siteOf(coded, context.localCodes);
  return [...meanings].map(([caution, codes]) => ({
    caution,
    reference: coded.reference,
    codes,
    site,
    ...(siteUnread ? { siteUnread: true as const } : {}),
    ...(codes.length === 0 ? { bySiteOnly: true as const } : {}),
    ...coded.when,
    state: coded.state as CautionRead['state'],
    ...(coded.state === 'past' && coded.pastAs ? { pastAs: coded.pastAs } : {}),
  }));
}

/** @throws RequestError PATIENT_MISMATCH */
export function requireOwnRecord(
  { resource, expression }: Placed,
  type: CautionType,
  patient: ReadPatient,
): void {
  const element = type === 'Device' ? 'patient' : 'subject';
  const named = (resource as Readonly<Record<string, { reference?: unknown } | null | undefined>>)[element]
    ?.reference;
  if (typeof named !== 'string' || patient.isMeantBy(named)) return;
  const text = 'is not the patient of this request';
  throw new RequestError('PATIENT_MISMATCH', [{ expression: `${expression}.${element}.reference`, text }]);
}

/** Undefined when it is malformed. */
function codedOf(placed: Placed, type: CautionType, { today }: CautionContext): Coded | undefined {
  if (type === 'Condition') {
    const read = parsed(conditionForm, placed);
    return (
      read &&
      codedFrom(placed, type, read, {
        concept: read.code,
        sites: read.bodySite,
        state: stateOfCondition(read, today),
        pastAs: pastAsOf(read),
        when: dateOfCondition(read),
        subject: read.subject,
      })
    );
  }
  if (type === 'Procedure') {
    const read = parsed(procedureForm, placed);
    return (
      read &&
      codedFrom(placed, type, read, {
        concept: read.code,
        sites: read.bodySite,
        state: stateOfProcedure(read),
        when: dateOfProcedure(read),
        subject: read.subject,
      })
    );
  }
  const read = parsed(lineDeviceForm, placed);
  return (
    read &&
    codedFrom(placed, type, read, {
      concept: read.type,
      state: stateOfDevice(read),
      when: NO_DATE,
      subject: read.patient,
    })
  );
}

function parsed<T>(form: z.ZodType<T>, { resource }: Placed): T | undefined {
  const result = form.safeParse(resource);
  return result.success ? result.data : undefined;
}

interface Parts {
  readonly concept?: CodeableConcept | undefined;
  readonly sites?: readonly CodeableConcept[] | undefined;
  readonly state: RecordState;
  readonly pastAs?: PastAs | undefined;
  readonly when: DateRead;
  readonly subject?: { readonly reference?: string | undefined } | undefined;
}

/** Undefined for a date that is in no calendar. */
function codedFrom(
  placed: Placed,
  type: CautionType,
  resource: Parameters<typeof isModified>[0],
  { concept = {}, sites = [], state, pastAs, when, subject }: Parts,
): Coded | undefined {
  if (when.date !== null && latestDayOf(when.date) === undefined) return undefined;
  const modified = isModified(resource);
  const hasSubject = subject?.reference !== undefined;
  const reference = referenceOf(placed, type);
  return { type, reference, concept, sites, state, pastAs, when, hasSubject, modified };
}

/** `Condition/a`, with its version where it says one; by its place where it has no id. */
export function referenceOf({ resource, expression }: Placed, type: CautionType): string {
  const { id, meta } = resource as { id?: unknown; meta?: { versionId?: unknown } | null };
  if (!isId(id)) return `#${expression}`;
  return isId(meta?.versionId) ? `${type}/${id}/_history/${meta?.versionId}` : `${type}/${id}`;
}

const isId = (id: unknown): id is string => typeof id === 'string' && /^[A-Za-z0-9.-]{1,64}$/.test(id);

export function unusable(placed: Placed, type: CautionType, why: UnusableRecord['why']): UnusableRecord {
  const reference = referenceOf(placed, type);
  return { type, reference: reference.startsWith('#') ? null : reference, why };
}

/** Of a malformed record: false where its code can be read and means nothing here. */
export function mayMean(placed: Placed, type: CautionType, context: CautionContext): boolean {
  const read = codedForm.safeParse(placed.resource);
  if (!read.success) return true;
  const concept = (type === 'Device' ? read.data.type : read.data.code) ?? {};
  return (concept.coding ?? []).length === 0 || codesFor(concept, context).size > 0;
}

function whyUnusable(
  { modified, hasSubject, when, state }: Coded,
  { asOf }: CautionContext,
): UnusableRecord['why'] | undefined {
  if (modified) return 'modifier';
  if (!hasSubject) return 'subject';
  const isFuture = when.date !== null && when.date > asOf.date.slice(0, when.date.length);
  return isFuture && state !== 'planned' ? 'future' : undefined;
}

type CodesByCaution = ReadonlyMap<string, CautionRead['codes']>;

/** By its codes; a Procedure at a hand may be the surgery that has no code here. */
function meaningsFor(coded: Coded, context: CautionContext): CodesByCaution {
  const codes = codesFor(coded.concept, context);
  if (codes.size > 0 || coded.type !== 'Procedure') return codes;
  const atHand = coded.sites.some((site) =>
    codesOf(site, SNOMED).some((code) => Object.values(HAND_STRUCTURE).some((hand) => hand.code === code)),
  );
  return atHand ? new Map([['recent-hand-surgery', []]]) : codes;
}

/**
 * A record of now under no code of a system that the rule knows: nobody can say that it was looked at. One that the site
 * maps to something else was.
 */
function isUncoded({ concept, state }: Coded, { localCodes }: CautionContext): boolean {
  if (state === 'past' || state === 'planned') return false;
  const isKnown = (concept.coding ?? []).some(({ system, code }) => code && KNOWN_SYSTEMS.has(system ?? ''));
  return !isKnown && (localCodes?.within(concept) ?? []).length === 0;
}

const KNOWN_SYSTEMS: ReadonlySet<string> = new Set([SNOMED, ICD10CM, GRIP_CAUTIONS]);

/** The codes of a concept that mean a caution, by caution, as the rule spells them; those of a site as its map has them. */
export function codesFor(concept: CodeableConcept, { rule, localCodes }: CautionContext): CodesByCaution {
  const found = new Map<string, Map<string, CautionRead['codes'][number]>>();
  const add = (caution: string, code: CautionRead['codes'][number]) => {
    const own = found.get(caution) ?? new Map();
    found.set(caution, own.set(`${code.system}|${code.code}|${code.local ?? ''}`, code));
  };
  const meanings = meaningsOfRule(rule);
  for (const { system = '', code = '' } of concept.coding ?? [])
    for (const meant of meanings.get(spelled(system, code)) ?? []) add(meant.caution, meant.code);
  for (const { code, target } of localCodes?.within(concept).filter(isOfCaution) ?? [])
    add(target.code, { system: GRIP_CAUTIONS, code: target.code, local: code });
  return new Map([...found].map(([caution, codes]) => [caution, [...codes.values()]]));
}

interface Meant {
  readonly caution: string;
  readonly code: { readonly system: string; readonly code: string };
}

/** Many charts leave out the dot of ICD-10-CM, or write it in small letters; no two of its codes differ by that alone. */
function spelled(system: string, code: string): string {
  return `${system}|${system === ICD10CM ? code.replace('.', '').toUpperCase() : code}`;
}

const tables = new WeakMap<TestingCautions, ReadonlyMap<string, readonly Meant[]>>();

/** Made once for a rule: a chart may hold thousands of codes. */
function meaningsOfRule(rule: TestingCautions): ReadonlyMap<string, readonly Meant[]> {
  const known = tables.get(rule);
  if (known) return known;
  const table = new Map<string, Meant[]>();
  for (const { id, codes } of rule.cautions)
    for (const { system, code } of [...codes, { system: GRIP_CAUTIONS, code: id }]) {
      const key = spelled(system, code);
      table.set(key, [...(table.get(key) ?? []), { caution: id, code: { system, code } }]);
    }
  tables.set(rule, table);
  return table;
}

/** Two sides that are named both count: a look too many costs less than one too few. */
export function siteOf(
  { concept, sites }: Pick<Coded, 'concept' | 'sites'>,
  localCodes: LocalCodes | undefined,
): { readonly site: CautionRead['site']; readonly siteUnread: boolean } {
  const mapped = (localCodes?.within(concept) ?? []).flatMap(({ hand }) => (hand ? [hand] : []));
  const named = sites.flatMap((site) => meaningsOf(codesOf(site, SNOMED), SIDE_OF_SNOMED));
  const [hand, ...others] = new Set<Hand>([...mapped, ...named]);
  if (!hand) return { site: null, siteUnread: sites.length > 0 };
  return { site: others.length > 0 ? 'both' : hand, siteUnread: false };
}
