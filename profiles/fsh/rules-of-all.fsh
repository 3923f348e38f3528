// What holds for a trial, a hand summary and an interpretation alike. Invariants are written so that a validator
// without a terminology service, and one that does not check bindings or targets of references, still decides.

RuleSet: GripObservation
* ^status = #active
* ^experimental = false
* ^date = "2026-11-25"
* ^publisher = "grip-strength-cds"
* implicitRules 0..0
* modifierExtension 0..0
* focus 0..0
* hasMember 0..0
* subject 1..1 MS
* subject only Reference(Patient)
* subject.reference 1..1 MS
* effective[x] 1..1 MS
* status MS
* category 1..* MS
* code MS
* value[x] MS
* dataAbsentReason MS
* performer MS
* bodySite MS
* method MS
* device MS
* derivedFrom MS
* obeys grip-1 and grip-2 and grip-3 and grip-4 and grip-5 and grip-6 and grip-7 and grip-8 and grip-9

Invariant: grip-1
Description: "The subject is a Patient: by a reference that ends in Patient/[id], a urn, or a contained Patient; a type, where given, says so."
Severity: #error
Expression: "subject.all(reference.matches('^(.*/)?Patient/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$|^urn:(uuid|oid):[0-9A-Za-z.-]+$|^#[A-Za-z0-9.-]{1,64}$') and (type.empty() or type = 'Patient')) and contained.where('#' + id = %resource.subject.reference).all($this is Patient)"

Invariant: grip-2
Description: "The category has `exam` of HL7's observation categories (US Core Observation Clinical Result)."
Severity: #error
Expression: "category.coding.where(system = 'http://terminology.hl7.org/CodeSystem/observation-category' and code = 'exam').exists()"

Invariant: grip-3
Description: "The category is not `vital-signs`: grip strength is no vital sign, and the code would call for another profile."
Severity: #error
Expression: "category.coding.where(code = 'vital-signs').empty()"

Invariant: grip-4
Description: "The time is a dateTime, an instant or the start of a period, and known to a day that the calendar has (age is counted on it)."
Severity: #error
Expression: "effective.exists() and effective.all(($this is dateTime or $this is instant or $this is Period) and iif($this is Period, start.toString(), toString()).substring(0, 10).matches('^([0-9]{4}-((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))|([0-9]{2}(0[48]|[2468][048]|[13579][26])|([02468][048]|[13579][26])00)-02-29)$'))"

Invariant: grip-5
Description: "A force is in UCUM and one of kg, kgf, [lb_av], [lbf_av] and N, above zero, without comparator."
Severity: #error
Expression: "value.ofType(Quantity).all(value.exists() and value > 0 and comparator.empty() and system = 'http://unitsofmeasure.org' and (code = 'kg' or code = 'kgf' or code = '[lb_av]' or code = '[lbf_av]' or code = 'N'))"

Invariant: grip-6
Description: "Nothing changes the meaning: no implicitRules, modifierExtension or focus; and it is no panel (hasMember)."
Severity: #error
Expression: "implicitRules.empty() and modifierExtension.empty() and focus.empty() and hasMember.empty()"

Invariant: grip-7
Description: "A narrative is one div of XHTML that says something: the tags that R4 allows, with quoted attributes, no handler of events, and text that is escaped."
Severity: #error
Expression: "text.all(`div`.matches('^<div[^>]* xmlns=.http://www.w3.org/1999/xhtml.[^>]*>') and `div`.matches('</div>[^<>]*$') and (`div`.replaceMatches('<[^>]*>', '').matches('[^ \\t\\r\\n]') or `div`.matches('<img ')) and `div`.replaceMatches('</?(a|abbr|acronym|b|big|blockquote|br|caption|cite|code|col|colgroup|dd|dfn|div|dl|dt|em|h[1-6]|hr|i|img|li|ol|p|pre|q|samp|small|span|strong|sub|sup|table|tbody|td|tfoot|th|thead|tr|tt|ul|var)([ \\t\\r\\n]+[a-zA-Z:-]+=(\"[^\"<]*\"|\\u0027[^\\u0027<]*\\u0027))*[ \\t\\r\\n]*/?>', '').matches('[<>]').not() and `div`.matches('&(?!(#[0-9]+|#x[0-9A-Fa-f]+|[A-Za-z][A-Za-z0-9]*);)').not() and `div`.matches('<(br|hr|img)(>|[ \\t\\r\\n][^<>]*[^/<>]>)').not() and `div`.matches('<[^>]*[ \\t\\r\\n]on[a-z]+=').not())"

Invariant: grip-8
Description: "References have no space and lead to a type that R4 has for the element."
Severity: #error
Expression: "(basedOn | partOf | encounter | performer | specimen | device | derivedFrom | note.author.ofType(Reference) | identifier.assigner).reference.all(matches(' ').not()) and basedOn.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(CarePlan|DeviceRequest|ImmunizationRecommendation|MedicationRequest|NutritionOrder|ServiceRequest)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and partOf.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(MedicationAdministration|MedicationDispense|MedicationStatement|Procedure|Immunization|ImagingStudy)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and encounter.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Encounter)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and performer.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Practitioner|PractitionerRole|Organization|CareTeam|Patient|RelatedPerson)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and specimen.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Specimen)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and device.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Device|DeviceMetric)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and derivedFrom.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(DocumentReference|ImagingStudy|Media|QuestionnaireResponse|Observation|MolecularSequence)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and note.author.ofType(Reference).reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Practitioner|Patient|RelatedPerson|Organization)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')) and identifier.assigner.reference.where(matches('(^|/)[A-Z][A-Za-z]+/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$')).all(matches('(^|/)(Organization)/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$'))"

Invariant: grip-9
Description: "The type that a reference names is one that R4 has for the element, also of what it contains; what is contained has an id; the language is a code of BCP 47."
Severity: #error
Expression: "device.type.all($this = 'Device' or $this = 'DeviceMetric') and performer.type.all($this = 'Practitioner' or $this = 'PractitionerRole' or $this = 'Organization' or $this = 'CareTeam' or $this = 'Patient' or $this = 'RelatedPerson') and encounter.type.all($this = 'Encounter') and specimen.type.all($this = 'Specimen') and contained.where('#' + id = %resource.device.reference).all($this is Device or $this is DeviceMetric) and contained.all(id.exists()) and language.all(matches('^[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*$'))"

RuleSet: ForceValue
* value[x] only Quantity
* valueQuantity from https://grip-strength-cds.example/fhir/ValueSet/grip-force-units (required)
* valueQuantity.value 1..1 MS
* valueQuantity.comparator 0..0
* valueQuantity.unit MS
* valueQuantity.system 1..1 MS
* valueQuantity.system = $ucum
* valueQuantity.code 1..1 MS
