/** terminology/ from the code tables: our code systems, and the value sets that the profiles bind to. */
import type { CodeSystem, ValueSet } from 'fhir/r4.js';
import { REQUEST_ERRORS } from '../src/errors.ts';
import { CAUTION_DISPLAYS, GRIP_CAUTIONS } from '../src/fhir/caution-codes.ts';
import {
  ARM_POSITIONS,
  CANONICAL,
  DOMINANCE_OF_SNOMED,
  GRIP_CODE_DISPLAYS,
  GRIP_CODES,
  GRIP_ISSUES,
  GRIP_LOINC,
  GRIP_OVERRIDES,
  GRIP_SNOMED,
  type GripCode,
  INSTRUMENT_OF_GRIP_CODE,
  LOINC,
  MEASURE_CODES,
  NON_ADHERENCE_DISPLAYS,
  NON_ADHERENCE_REASONS,
  OBSERVATION_INTERPRETATION,
  OVERRIDE_DISPLAYS,
  POSTURE_OF_SNOMED,
  SIDE_OF_SNOMED,
  SNOMED,
  UCUM,
} from '../src/fhir/codes.ts';
import { CHARTED_UNITS } from '../src/interpret/units.ts';
import { CAUTION_MEANINGS } from '../src/wording/caution-statements.ts';
import { NOTICES } from '../src/wording/notices.ts';
import { REFUSALS } from '../src/wording/refusals.ts';
import { COPYRIGHT } from './code-licences.ts';
import { cautionValueSets } from './generated-caution-sets.ts';

/** Of every definition of this package. */
export const DEFINITIONS_VERSION = '0.3.0';
const RELEASED = '2026-11-25';
export const PUBLISHER = 'grip-strength-cds';
const OBSERVATION_STATUS = 'http://hl7.org/fhir/observation-status';

interface Concept {
  readonly code: string;
  readonly display: string;
}

type Displays = Readonly<Record<string, string>>;

/** Path from the package root -> content. */
export function terminologyFiles(): ReadonlyMap<string, string> {
  const resources = [...codeSystems(), ...valueSets(), ...cautionValueSets()];
  return new Map(
    resources.map((resource) => [
      `terminology/${resource.resourceType}-${resource.id}.json`,
      `${JSON.stringify(resource, null, 2)}\n`,
    ]),
  );
}

function concepts(displays: Displays): readonly Concept[] {
  return Object.entries(displays).map(([code, display]) => ({ code, display }));
}

const errorTexts = Object.fromEntries(Object.entries(REQUEST_ERRORS).map(([code, { text }]) => [code, text]));
const noticeMeanings = Object.fromEntries(
  Object.entries(NOTICES).map(([code, { meaning }]) => [code, meaning]),
);
const refusalMeanings = Object.fromEntries(
  Object.entries(REFUSALS).map(([code, { meaning }]) => [code, meaning]),
);

function codeSystems(): readonly CodeSystem[] {
  return [
    codeSystem(GRIP_CODES, 'GripStrength', 'Grip strength: figures and results', GRIP_CODE_DISPLAYS),
    codeSystem(GRIP_ISSUES, 'GripStrengthIssue', 'Grip strength: errors, refusals and cautions', {
      ...errorTexts,
      ...refusalMeanings,
      ...CAUTION_MEANINGS,
      ...noticeMeanings,
    }),
    codeSystem(
      GRIP_OVERRIDES,
      'GripStrengthOverride',
      'Grip strength: reasons for overriding a card',
      OVERRIDE_DISPLAYS,
    ),
    codeSystem(
      GRIP_CAUTIONS,
      'GripTestingCaution',
      'Grip strength: what speaks against testing an arm',
      CAUTION_DISPLAYS,
    ),
  ];
}

function codeSystem(url: string, name: string, title: string, displays: Displays): CodeSystem {
  const concept = concepts(displays);
  return {
    resourceType: 'CodeSystem',
    id: url.split('/').at(-1) ?? '',
    url,
    version: DEFINITIONS_VERSION,
    name,
    title,
    status: 'active',
    experimental: false,
    date: RELEASED,
    publisher: PUBLISHER,
    description: `${title}, as used by grip-strength-cds.`,
    caseSensitive: true,
    content: 'complete',
    count: concept.length,
    concept: [...concept],
  };
}

type Included = readonly [system: string, concepts: readonly Concept[]];

const own = (...codes: readonly GripCode[]): Included => [
  GRIP_CODES,
  codes.map((code) => ({ code, display: GRIP_CODE_DISPLAYS[code] })),
];
const statuses = (...codes: readonly string[]): Included => [
  OBSERVATION_STATUS,
  codes.map((code) => ({ code, display: STATUS_DISPLAYS[code] ?? '' })),
];
const STATUS_DISPLAYS: Displays = {
  preliminary: 'Preliminary',
  final: 'Final',
  amended: 'Amended',
  corrected: 'Corrected',
  'entered-in-error': 'Entered in Error',
};
const snomed = (table: Readonly<Record<string, string>>): Included => [
  SNOMED,
  Object.keys(table).map((code) => ({ code, display: SNOMED_DISPLAYS[code] ?? '' })),
];
/** Preferred terms, as in the public value sets that codes.ts names. */
const SNOMED_DISPLAYS: Displays = {
  [GRIP_SNOMED]: 'Grip strength',
  '78791008': 'Structure of right hand',
  '85151006': 'Structure of left hand',
  '24028007': 'Right',
  '7771000': 'Left',
  '33586001': 'Sitting position',
  '10904000': 'Orthostatic body position',
  '102538003': 'Recumbent body position',
  '40199007': 'Supine body position',
  '46669005': 'Right handed',
  '87683000': 'Left handed',
  '23088002': 'Ambidextrous',
};
const LOINC_DISPLAYS: Displays = {
  [GRIP_LOINC.right]: 'Grip strength Hand - right Dynamometer',
  [GRIP_LOINC.left]: 'Grip strength Hand - left Dynamometer',
  '8302-2': 'Body height',
  '29463-7': 'Body weight',
  '39156-5': 'Body mass index (BMI) [Ratio]',
};
const UNIT_DISPLAYS: Displays = {
  kg: 'kilogram, as the display of a dynamometer says it: read as kilogram-force',
  kgf: 'kilogram-force',
  '[lb_av]': 'pound, as the display of a dynamometer says it: read as pound-force',
  '[lbf_av]': 'pound-force',
  N: 'newton',
};

const loinc = (codes: readonly string[]): Included => [
  LOINC,
  codes.map((code) => ({ code, display: LOINC_DISPLAYS[code] ?? '' })),
];
const measures = Object.values(MEASURE_CODES);

/** Id -> title, what it says, and its codes. */
const VALUE_SETS: Readonly<Record<string, readonly [title: string, text: string, ...Included[]]>> = {
  'grip-trial-codes': [
    'Codes of a grip trial',
    'LOINC says the hand; with SNOMED CT the body site does.',
    loinc(Object.values(GRIP_LOINC)),
    snomed({ [GRIP_SNOMED]: '' }),
  ],
  'grip-trial-status': [
    'Status of a usable grip trial',
    'With any other status a reading is not used.',
    statuses('final', 'amended', 'corrected', 'preliminary'),
  ],
  'grip-force-units': [
    'Units of a grip reading',
    'UCUM. Kilogram and pound are units of mass; on a dynamometer they mean the force, same number.',
    [UCUM, Object.keys(CHARTED_UNITS).map((code) => ({ code, display: UNIT_DISPLAYS[code] ?? '' }))],
  ],
  'grip-hand-sites': ['Body sites that name a hand', 'Structures, or the bare side.', snomed(SIDE_OF_SNOMED)],
  'grip-postures': [
    'Positions of the body during a grip trial',
    'Values of the extension observation-bodyPosition that are read.',
    snomed(POSTURE_OF_SNOMED),
  ],
  'grip-arm-positions': [
    'Positions of the arm during a grip trial',
    'Values of the component arm-position.',
    own(...ARM_POSITIONS),
  ],
  'grip-trial-components': [
    'Components of a grip trial',
    'How it was done, and which it was.',
    own('handle-position', 'arm-position', 'own-baseline', 'trial-number'),
  ],
  'grip-instruments': [
    'Kinds of dynamometer',
    'Values of Device.type.',
    own(...(Object.keys(INSTRUMENT_OF_GRIP_CODE) as GripCode[])),
  ],
  'grip-handedness': [
    'The dominant hand',
    'Values of a handedness finding that are read.',
    snomed(DOMINANCE_OF_SNOMED),
  ],
  'grip-other-measures': [
    'Measures beside grip',
    'Codes of the Observations that some sets need.',
    loinc(measures.filter(({ system }) => system === LOINC).map(({ code }) => code)),
    own(...measures.filter(({ system }) => system === GRIP_CODES).map(({ code }) => code as GripCode)),
  ],
  'grip-summary-kinds': [
    'Kinds of grip summary',
    'Which figure stands for the trials of a hand or of the person.',
    own('mean-per-hand', 'highest-per-hand', 'highest-of-either-hand', 'mean-of-both-hands'),
  ],
  'grip-result-status': [
    'Status of a grip summary',
    'Those of a figure, usable or withdrawn.',
    statuses('preliminary', 'final', 'amended', 'corrected', 'entered-in-error'),
  ],
  'grip-interpretation-codes': [
    'Codes of a grip interpretation',
    'Read against a table of norms, or against a consensus cut-point.',
    own('strength-against-norm', 'strength-against-cut-point'),
  ],
  'grip-interpretation-status': [
    'Status of a grip interpretation',
    'Preliminary until a clinician accepts it.',
    statuses('preliminary', 'final', 'amended', 'entered-in-error'),
  ],
  'grip-findings': [
    'Grip findings',
    'What a reference set makes of a summary.',
    own('reduced', 'not-reduced'),
  ],
  'grip-interpretation-flags': [
    'Flags of a grip interpretation',
    'Low; or normal, by a table of norms only.',
    [
      OBSERVATION_INTERPRETATION,
      [
        { code: 'L', display: 'Low' },
        { code: 'N', display: 'Normal' },
      ],
    ],
  ],
  'grip-interpretation-components': [
    'Components of a grip interpretation',
    'Where the figure stands in its row, or both columns where no sex can be read.',
    own('z-score', 'percentile', 'centile-place', 'source-band', 'column-female', 'column-male'),
  ],
  'grip-request-errors': [
    'Errors of a request',
    'Why a request was answered with an error.',
    [GRIP_ISSUES, concepts(errorTexts)],
  ],
  'grip-refusals': [
    'Grip refusals',
    'Why a trial, a session or a set was not interpreted.',
    [GRIP_ISSUES, concepts(refusalMeanings)],
  ],
  'grip-cautions': [
    'Grip cautions',
    'What does not stop an interpretation but changes how far it can be relied on.',
    [GRIP_ISSUES, concepts(CAUTION_MEANINGS)],
  ],
  'grip-overrides': [
    'Reasons for overriding a grip card',
    'Offered with each card: our own, and three of the trial-use list that CDS Hooks 3.0.0-ballot suggests.',
    [GRIP_OVERRIDES, concepts(OVERRIDE_DISPLAYS)],
    [NON_ADHERENCE_REASONS, concepts(NON_ADHERENCE_DISPLAYS)],
  ],
};

function valueSets(): readonly ValueSet[] {
  return Object.entries(VALUE_SETS).map(([id, [title, text, ...included]]) => {
    const copyright = included.flatMap(([system]) => COPYRIGHT[system] ?? []);
    return {
      resourceType: 'ValueSet',
      id,
      url: `${CANONICAL}/ValueSet/${id}`,
      version: DEFINITIONS_VERSION,
      name: id.replace(/(?:^|-)(\w)/g, (_all, letter: string) => letter.toUpperCase()),
      title,
      status: 'active',
      experimental: false,
      date: RELEASED,
      publisher: PUBLISHER,
      description: `${title}. ${text}`,
      immutable: false,
      ...(copyright.length > 0 ? { copyright: copyright.join(' ') } : {}),
      compose: { include: included.map(([system, concept]) => ({ system, concept: [...concept] })) },
    };
  });
}
