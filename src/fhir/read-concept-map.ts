/**
 * An R4 ConceptMap of local codes -> what each means, strictly: a map that says more than is read here, or maps to
 * what is not read, is a fault that stops the start.
 */
import { z } from 'zod';
import { RequestError, type RequestIssue } from '../errors.ts';
import type { Hand } from '../interpret/measurement.ts';
import { CAUTION_DISPLAYS, GRIP_CAUTIONS, ICD10CM } from './caution-codes.ts';
import {
  GRIP_CODES,
  GRIP_LOINC,
  GRIP_SNOMED,
  type GripCode,
  HANDEDNESS_SNOMED,
  LOINC,
  MEASURE_CODES,
  SIDE_OF_SNOMED,
  SNOMED,
} from './codes.ts';
import { requireForm } from './forms.ts';
import { type LocalCode, type LocalCodes, localCodesOf } from './local-codes.ts';
import { meaningsOf } from './read-observation.ts';

/** `product` of a target: the number of the trial. */
export const TRIAL_NUMBER_PROPERTY = `${GRIP_CODES}#${'trial-number' satisfies GripCode}`;
/** `product` of a target: the hand, as a SNOMED CT code that names a side. */
export const BODY_SITE_PROPERTY = 'http://hl7.org/fhir/StructureDefinition/Observation#Observation.bodySite';

const text = z.string().min(1);
/** May be there and is not read; any other element that is not listed is a fault. */
const unread = { id: z.string().optional(), extension: z.array(z.unknown()).optional() };

const product = z.strictObject({
  ...unread,
  property: text,
  system: text.optional(),
  value: text,
  display: z.string().optional(),
});
const target = z.strictObject({
  ...unread,
  code: text,
  display: z.string().optional(),
  equivalence: z.enum(['equal', 'equivalent']),
  comment: z.string().optional(),
  product: z.array(product).optional(),
});
const element = z.strictObject({
  ...unread,
  code: text,
  display: z.string().optional(),
  target: z.array(target).length(1),
});
const group = z.strictObject({
  ...unread,
  source: text,
  sourceVersion: z.string().optional(),
  target: text,
  targetVersion: z.string().optional(),
  element: z.array(element).min(1),
});
const conceptMapForm = z.looseObject({
  resourceType: z.literal('ConceptMap'),
  id: z
    .string()
    .regex(/^[A-Za-z0-9.-]{1,64}$/)
    .optional(),
  name: z.string().optional(),
  title: z.string().optional(),
  url: text,
  version: text,
  status: z.literal('active'),
  group: z.array(group).min(1),
});

/** What a target is to this service; `component` and `measure` have neither hand nor number, a caution no number. */
type TargetKind = 'trial' | 'summary' | 'component' | 'measure' | 'caution';

const OWN_TARGETS: Readonly<Record<string, TargetKind>> = {
  'grip-trial': 'trial',
  'mean-per-hand': 'summary',
  'highest-per-hand': 'summary',
  'trial-number': 'component',
  'handle-position': 'component',
  'arm-position': 'component',
  'own-baseline': 'component',
} satisfies Partial<Record<GripCode, TargetKind>>;

function targetKind(system: string, code: string): TargetKind | undefined {
  if (system === LOINC && Object.values(GRIP_LOINC).includes(code)) return 'trial';
  if (system === SNOMED && code === GRIP_SNOMED) return 'trial';
  if (system === SNOMED && code === HANDEDNESS_SNOMED) return 'measure';
  const isMeasure = Object.values(MEASURE_CODES).some(
    (coding) => coding.system === system && coding.code === code,
  );
  if (isMeasure) return 'measure';
  if (system === GRIP_CAUTIONS && Object.hasOwn(CAUTION_DISPLAYS, code)) return 'caution';
  return system === GRIP_CODES ? meaningsOf([code], OWN_TARGETS)[0] : undefined;
}

/**
 * @param sha256 of the file that it was read from
 * @throws RequestError BODY_INVALID naming every element at fault
 */
export function readConceptMap(resource: unknown, sha256: string): LocalCodes {
  const map = requireForm(conceptMapForm, resource, 'ConceptMap');
  const issues: RequestIssue[] = [];
  const found = new Map<string, LocalCode>();
  for (const name of ['implicitRules', 'modifierExtension'])
    if (map[name] !== undefined)
      issues.push({ expression: `ConceptMap.${name}`, text: 'may change the meaning and is not known here' });
  for (const [groupIndex, each] of map.group.entries()) {
    const expression = `ConceptMap.group[${groupIndex}]`;
    if ((each.target === GRIP_CAUTIONS ? OWN_SYSTEMS : READ_SYSTEMS).includes(each.source))
      issues.push({ expression: `${expression}.source`, text: 'is a system that is read as it is' });
    for (const [index, mapped] of each.element.entries()) {
      const place = `${expression}.element[${index}]`;
      const key = `${each.source}|${mapped.code}`;
      if (found.has(key)) issues.push({ expression: `${place}.code`, text: 'is mapped more than once' });
      for (const only of mapped.target) {
        const read = readTarget(only, each.target, `${place}.target[0]`);
        issues.push(...read.issues);
        found.set(key, {
          system: each.source,
          code: mapped.code,
          target: { system: each.target, code: only.code },
          ...read.meaning,
        });
      }
    }
  }
  if (issues.length > 0) throw new RequestError('BODY_INVALID', issues);
  return localCodesOf({ url: map.url, version: map.version, sha256 }, [...found.values()]);
}

const OWN_SYSTEMS: readonly string[] = [GRIP_CODES, GRIP_CAUTIONS];
/** A site may map procedures of SNOMED CT or diagnoses of ICD-10-CM to a caution: only some of them are read as they are. */
const READ_SYSTEMS: readonly string[] = [LOINC, SNOMED, ICD10CM, ...OWN_SYSTEMS];

interface ReadTarget {
  readonly issues: readonly RequestIssue[];
  readonly meaning: Pick<LocalCode, 'hand' | 'trialNumber'>;
}

function readTarget(
  { code, product: products = [] }: z.infer<typeof target>,
  system: string,
  expression: string,
): ReadTarget {
  const kind = targetKind(system, code);
  if (!kind)
    return {
      issues: [{ expression: `${expression}.code`, text: 'is not a code that this service reads' }],
      meaning: {},
    };
  const issues: RequestIssue[] = [];
  const fault = (index: number, why: string) =>
    issues.push({ expression: `${expression}.product[${index}]`, text: why });
  let hand: Hand | undefined;
  let trialNumber: number | undefined;
  for (const [index, { property, system: valueSystem, value }] of products.entries()) {
    if (property === TRIAL_NUMBER_PROPERTY) {
      if (kind !== 'trial') fault(index, 'is the number of a trial, and the target is no trial');
      else if (trialNumber !== undefined) fault(index, 'is given twice');
      else if (!/^[1-9]\d?$/.test(value)) fault(index, 'must be a whole number from 1 to 99');
      else trialNumber = Number(value);
    } else if (property === BODY_SITE_PROPERTY) {
      const [side] = valueSystem === SNOMED ? meaningsOf([value], SIDE_OF_SNOMED) : [];
      if (kind !== 'trial' && kind !== 'summary' && kind !== 'caution')
        fault(index, 'is a hand, and the target is neither a figure nor a caution of one');
      else if (hand !== undefined) fault(index, 'is given twice');
      else if (!side) fault(index, `must be a code of ${SNOMED} that names a side`);
      else if (system === LOINC && GRIP_LOINC[side] !== code) fault(index, 'is not the hand of the target');
      else hand = side;
    } else fault(index, `has a property that is not one of: ${TRIAL_NUMBER_PROPERTY}, ${BODY_SITE_PROPERTY}`);
  }
  return {
    issues,
    meaning: { ...(hand ? { hand } : {}), ...(trialNumber === undefined ? {} : { trialNumber }) },
  };
}
