/**
 * Top-level elements of the types that are served: those of a summary, those that must be there, and those that
 * change the meaning of the others (STANDARDS X11). Written by npm run generate from the definitions of R4.
 */

export interface ElementsOfType {
  /** `isSummary` in R4: what _summary=true leaves. */
  readonly summary: ReadonlySet<string>;
  /** At least one is required, or a value of a choice is. */
  readonly mandatory: ReadonlySet<string>;
  readonly modifier: ReadonlySet<string>;
}

/** Type | summary | mandatory | modifier. Choices by the names that they have in JSON. */
const TABLE = `
CapabilityStatement | id meta implicitRules url version name title status experimental date publisher contact useContext jurisdiction kind instantiates imports software implementation fhirVersion format patchFormat implementationGuide rest messaging document | status date kind fhirVersion format | implicitRules modifierExtension status
CodeSystem | id meta implicitRules url identifier version name title status experimental date publisher contact useContext jurisdiction caseSensitive valueSet hierarchyMeaning compositional versionNeeded content supplements count filter property | status content | implicitRules modifierExtension status
ConceptMap | id meta implicitRules url identifier version name title status experimental date publisher contact useContext jurisdiction sourceUri sourceCanonical targetUri targetCanonical | status | implicitRules modifierExtension status
Device | id meta implicitRules udiCarrier status safety |  | implicitRules modifierExtension status
Library | id meta implicitRules url identifier version name title status experimental type date publisher contact description useContext jurisdiction effectivePeriod content | status type | implicitRules modifierExtension status
Observation | id meta implicitRules identifier basedOn partOf status code subject focus encounter effectiveDateTime effectivePeriod effectiveTiming effectiveInstant issued performer valueQuantity valueCodeableConcept valueString valueBoolean valueInteger valueRange valueRatio valueSampledData valueTime valueDateTime valuePeriod hasMember derivedFrom component | status code | implicitRules modifierExtension status
ObservationDefinition | id meta implicitRules category code identifier | code | implicitRules modifierExtension
OperationDefinition | id meta implicitRules url version name title status kind experimental date publisher contact useContext jurisdiction affectsState code base resource system type instance | name status kind code system type instance | implicitRules modifierExtension status
Provenance | id meta implicitRules target recorded | target recorded agent | implicitRules modifierExtension
StructureDefinition | id meta implicitRules url identifier version name title status experimental date publisher contact useContext jurisdiction keyword fhirVersion kind abstract context contextInvariant type baseDefinition derivation | url name status kind abstract type | implicitRules modifierExtension status
ValueSet | id meta implicitRules url identifier version name title status experimental date publisher contact useContext jurisdiction immutable | status | implicitRules modifierExtension status
`;

/** By type of resource. A primitive's own `_name` belongs to the element `name`. */
export const ELEMENTS_OF_TYPE: ReadonlyMap<string, ElementsOfType> = new Map(
  TABLE.trim()
    .split('\n')
    .map((line) => {
      const [type = '', ...columns] = line.split('|').map((cell) => cell.trim());
      const [summary, mandatory, modifier] = columns.map(
        (names) => new Set(names.split(' ').filter(Boolean)),
      ) as [Set<string>, Set<string>, Set<string>];
      return [type, { summary, mandatory, modifier }];
    }),
);
