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
* obeys grip-1 and grip-2 and grip-3 and grip-4 and grip-5 and grip-6

Invariant: grip-1
Description: "The subject is a Patient: by a reference that ends in Patient/[id], a urn, or a contained Patient; a type, where given, says so."
Severity: #error
Expression: "subject.all(reference.matches('^(.*/)?Patient/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$|^urn:(uuid|oid):[0-9A-Za-z.-]+$|^#[A-Za-z0-9.-]{1,64}$') and (type.empty() or type = 'Patient'))"

Invariant: grip-2
Description: "The category has `exam` of HL7's observation categories (US Core Observation Clinical Result)."
Severity: #error
Expression: "category.coding.where(system = 'http://terminology.hl7.org/CodeSystem/observation-category' and code = 'exam').exists()"

Invariant: grip-3
Description: "The category is not `vital-signs`: grip strength is no vital sign, and the code would call for another profile."
Severity: #error
Expression: "category.coding.where(code = 'vital-signs').empty()"

Invariant: grip-4
Description: "The time is a dateTime, an instant or the start of a period, known to the day at least (age is counted on it)."
Severity: #error
Expression: "effective.exists() and effective.all(($this is dateTime or $this is instant or $this is Period) and iif($this is Period, start.exists() and start.toString().matches('^[0-9]{4}-[0-9]{2}-[0-9]{2}'), toString().matches('^[0-9]{4}-[0-9]{2}-[0-9]{2}')))"

Invariant: grip-5
Description: "A force is in UCUM and one of kg, kgf, [lb_av], [lbf_av] and N, above zero, without comparator."
Severity: #error
Expression: "value.ofType(Quantity).all(value.exists() and value > 0 and comparator.empty() and system = 'http://unitsofmeasure.org' and (code = 'kg' or code = 'kgf' or code = '[lb_av]' or code = '[lbf_av]' or code = 'N'))"

Invariant: grip-6
Description: "Nothing changes the meaning: no implicitRules, modifierExtension or focus; and it is no panel (hasMember)."
Severity: #error
Expression: "implicitRules.empty() and modifierExtension.empty() and focus.empty() and hasMember.empty()"

RuleSet: ForceValue
* value[x] only Quantity
* valueQuantity from https://grip-strength-cds.example/fhir/ValueSet/grip-force-units (required)
* valueQuantity.value 1..1 MS
* valueQuantity.comparator 0..0
* valueQuantity.unit MS
* valueQuantity.system 1..1 MS
* valueQuantity.system = $ucum
* valueQuantity.code 1..1 MS
