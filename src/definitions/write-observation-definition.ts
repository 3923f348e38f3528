/**
 * A table of norms or a set of cut-points -> FHIR ObservationDefinition: one interval for each row. R4 gives it
 * neither URL, version nor status, and no place for mean, SD and centiles (STANDARDS FN2): the Library of the same
 * id has them, with the released file.
 */
import type { CodeableConcept, ObservationDefinition } from 'fhir/r4.js';
import {
  GRIP_SNOMED,
  type GripCode,
  gripCoding,
  OBSERVATION_CATEGORY,
  SNOMED,
  UCUM,
  ucumOf,
} from '../fhir/codes.ts';
import { narrative } from '../fhir/observation-parts.ts';
import { releaseCanonical, releaseId } from '../fhir/release-identity.ts';
import { exact, toDecimalText } from '../interpret/exact.ts';
import { figureUnit } from '../interpret/figure.ts';
import type { FigureUnit } from '../interpret/finding.ts';
import { convertForce } from '../interpret/units.ts';
import { citationLine } from '../reference/describe.ts';
import { standingOf } from '../reference/find-release.ts';
import type { ReferenceLibrary } from '../reference/library.ts';
import type { Release } from '../reference/read-norms.ts';
import { firstRule } from '../reference/ready-alone.ts';
import type { ReadingRule } from '../reference/ready-table.ts';
import type { CutPointsFile, TableFile } from '../reference/schema.ts';
import { measuredText } from './describe-release.ts';
import { cutPointIntervals, tableIntervals } from './write-intervals.ts';

export function writeObservationDefinition(
  library: ReferenceLibrary,
  release: Release<TableFile | CutPointsFile>,
): ObservationDefinition {
  const { file, ref } = release;
  const rule = file.kind === 'table' ? firstRule(release as Release<TableFile>, library.releases) : null;
  const intervals = rule
    ? tableIntervals(release as Release<TableFile>, rule)
    : cutPointIntervals(release as Release<CutPointsFile>);
  const status = standingOf(library, release);
  return {
    resourceType: 'ObservationDefinition',
    id: releaseId(ref),
    text: {
      status: 'generated',
      div: narrative([
        file.title,
        `${releaseCanonical(ref)}, ${status}. SHA-256 of the released file: ${ref.digest}`,
        citationLine(file.citation),
        ...readingSentences(rule, intervals, file.rows.length),
      ]),
    },
    category: [{ coding: [{ system: OBSERVATION_CATEGORY, code: 'exam', display: 'Exam' }] }],
    code: codeOf(file),
    identifier: [{ system: 'urn:ietf:rfc:3986', value: releaseCanonical(ref) }],
    permittedDataType: ['Quantity'],
    multipleResultsAllowed: false,
    method: { text: `${measuredText(file)}${rule ? `. ${ruleSentence(rule)}` : ''}` },
    preferredReportName: `${file.shortTitle} ${ref.version}${status === 'active' ? '' : ` (${status})`}`,
    quantitativeDetails: unitsOf(figureUnit(file), file),
    ...(intervals.length > 0 ? { qualifiedInterval: intervals } : {}),
  };
}

/** The mean less two SD, or a centile, is a rule's doing, not the table's. */
function ruleSentence({ ref, file }: ReadingRule): string {
  return `Limits by the rule of its worked examples, ${ref.id} ${ref.version} (${file.title}); a panel may read it by another`;
}

function readingSentences(
  rule: ReadingRule | null,
  intervals: NonNullable<ObservationDefinition['qualifiedInterval']>,
  rows: number,
): readonly string[] {
  const leftOut = rows - intervals.length;
  return [
    ...(rule ? [`${ruleSentence(rule)}.`] : []),
    ...(leftOut > 0
      ? [`Rows left out because the source prints a figure that is not known here: ${leftOut}.`]
      : []),
    ...(intervals.some(({ range }) => !range)
      ? [
          'Where a figure equal to the limit counts as reduced, the limit stands in the condition only and there is no range: in R4 the low end of a range is still inside it.',
        ]
      : []),
  ];
}

/**
 * One concept: the kind of summary, and SNOMED CT's grip strength, which it is one of. LOINC's codes name one squeeze of
 * one hand. Grip over body mass index or height squared is another quantity, for which neither has a known code.
 */
function codeOf({ kind, summary, handConvention, quantity }: TableFile | CutPointsFile): CodeableConcept {
  const read: GripCode = kind === 'table' ? 'strength-against-norm' : 'strength-against-cut-point';
  if (quantity) return { coding: [gripCoding(read)], text: QUANTITIES[quantity] };
  const published = { system: SNOMED, code: GRIP_SNOMED, display: 'Grip strength' };
  return { coding: [published, gripCoding(summary.kind ?? read)], text: HANDS[handConvention] };
}

const HANDS: Readonly<Record<TableFile['handConvention'], string>> = {
  'right-left': 'Grip strength of the right or of the left hand; each interval says which',
  'dominant-nondominant': 'Grip strength of the dominant or of the other hand; each interval says which',
  either: 'Grip strength of the person',
};

const QUANTITIES = {
  'force-over-bmi': 'Grip strength of the person over body mass index',
  'force-over-height-squared': 'Grip strength of the person over height squared',
} as const;

/** R4: `customaryUnit` is what is reported, `unit` its SI unit, and the factor leads from SI to customary. */
function unitsOf(
  unit: FigureUnit,
  { unit: force, rows }: TableFile | CutPointsFile,
): ObservationDefinition['quantitativeDetails'] {
  const coded = (each: FigureUnit): CodeableConcept => ({
    coding: [{ system: UCUM, code: ucumOf(each), display: each }],
  });
  const si = unit.replace(force, 'N') as FigureUnit;
  const printed = rows.flatMap((row) =>
    'value' in row ? [row.value] : [row.mean, row.sd, ...Object.values(row.percentiles ?? {})],
  );
  return {
    customaryUnit: coded(unit),
    unit: coded(si),
    conversionFactor: Number(toDecimalText(convertForce(exact('1'), 'N', force), 8)),
    decimalPrecision: Math.max(...printed.map((text) => text?.split('.')[1]?.length ?? 0)),
  };
}
