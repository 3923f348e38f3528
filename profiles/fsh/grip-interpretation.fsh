Profile: GripInterpretation
Parent: Observation
Id: grip-interpretation
Title: "Grip interpretation"
Description: "One summary of grip strength read against one reference set at one version: reduced or not reduced by that set, or the reason why it was not read. It fits US Core Simple Observation."
* insert GripObservation
* insert MachineMade
* meta 1..1
* meta.security 1..*
* text 1..1
* identifier 1..*
* status from https://grip-strength-cds.example/fhir/ValueSet/grip-interpretation-status (required)
* code from https://grip-strength-cds.example/fhir/ValueSet/grip-interpretation-codes (required)
* code.coding 1..1
* code.text 1..1 MS
* effective[x] only dateTime
* issued 1..1
* value[x] only CodeableConcept
* valueCodeableConcept from https://grip-strength-cds.example/fhir/ValueSet/grip-findings (required)
* dataAbsentReason from http://hl7.org/fhir/ValueSet/data-absent-reason (required)
* interpretation 0..1 MS
* interpretation from https://grip-strength-cds.example/fhir/ValueSet/grip-interpretation-flags (required)
* note 1..*
* method 1..1
* method.text 1..1
* device 1..1
* referenceRange 0..1 MS
* referenceRange.high 0..0
* referenceRange.type 1..1
* referenceRange.type = $range-meaning#normal
* referenceRange.appliesTo 1..1
* referenceRange.age 1..1
* referenceRange.age.low 1..1
* referenceRange.text 1..1
* derivedFrom 1..*
* derivedFrom only Reference(Observation)
* component MS
* component.modifierExtension 0..0
* component.dataAbsentReason 0..0
* component.value[x] 1..1
* component.code from https://grip-strength-cds.example/fhir/ValueSet/grip-interpretation-components (required)
* obeys grip-50 and grip-51 and grip-52 and grip-53 and grip-54 and grip-55 and grip-56 and grip-57 and grip-58 and grip-59 and grip-60 and grip-61 and grip-62 and grip-63

Invariant: grip-50
Description: "It is labelled AIAST, asserted by an algorithm."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists()"

Invariant: grip-51
Description: "The status is preliminary (until a clinician accepts it), final, amended or entered-in-error."
Severity: #error
Expression: "status = 'preliminary' or status = 'final' or status = 'amended' or status = 'entered-in-error'"

Invariant: grip-52
Description: "The code is one coding, strength-against-norm or strength-against-cut-point of our own system (no LOINC code says it, least of all one of the NIH Toolbox), with the set in its text."
Severity: #error
Expression: "code.coding.count() = 1 and code.coding.all(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'strength-against-norm' or code = 'strength-against-cut-point')) and code.text.exists()"

Invariant: grip-53
Description: "The value is a concept with exactly one of our codes reduced and not-reduced."
Severity: #error
Expression: "value.exists() implies (value is CodeableConcept and value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength').count() = 1 and value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength').all(code = 'reduced' or code = 'not-reduced'))"

Invariant: grip-54
Description: "There is a value, or a coded reason for its absence that a note explains; never both."
Severity: #error
Expression: "(value.exists() xor dataAbsentReason.exists()) and dataAbsentReason.all(coding.where(system = 'http://terminology.hl7.org/CodeSystem/data-absent-reason').count() = 1 and coding.where(system = 'http://terminology.hl7.org/CodeSystem/data-absent-reason').all(code = 'unknown' or code = 'asked-unknown' or code = 'temp-unknown' or code = 'not-asked' or code = 'asked-declined' or code = 'masked' or code = 'not-applicable' or code = 'unsupported' or code = 'as-text' or code = 'error' or code = 'not-a-number' or code = 'negative-infinity' or code = 'positive-infinity' or code = 'not-performed' or code = 'not-permitted')) and (dataAbsentReason.exists() implies note.exists())"

Invariant: grip-55
Description: "The interpretation is one flag of v3-ObservationInterpretation: L exactly when reduced; N exactly when not reduced by a table of norms, since not being below a cut-point is not being normal; else none."
Severity: #error
Expression: "interpretation.count() <= 1 and interpretation.all(coding.count() = 1 and coding.all(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation' and (code = 'L' or code = 'N'))) and (interpretation.coding.where(code = 'L').exists() = value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'reduced').exists()) and (interpretation.coding.where(code = 'N').exists() = (value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'not-reduced').exists() and code.coding.where(code = 'strength-against-norm').exists()))"

Invariant: grip-56
Description: "A value comes with the one range that it was read against, and an absent value with none."
Severity: #error
Expression: "iif(value.exists(), referenceRange.count() = 1, referenceRange.empty())"

Invariant: grip-57
Description: "Every reference range says its limit and citation in words (text), is one of the type `normal`, and applies to one sex: SNOMED CT 248152002 (female) or 248153007 (male)."
Severity: #error
Expression: "(referenceRange | component.referenceRange).all(text.exists() and type.coding.where(system = 'http://terminology.hl7.org/CodeSystem/referencerange-meaning' and code = 'normal').exists() and appliesTo.count() = 1 and appliesTo.coding.where(system = 'http://snomed.info/sct' and (code = '248152002' or code = '248153007')).count() = 1)"

Invariant: grip-58
Description: "Every reference range has the ages of its row in UCUM years (a): from, and to where the row ends; to is not before from."
Severity: #error
Expression: "(referenceRange | component.referenceRange).all(age.exists() and age.low.value.exists() and age.low.value >= 0 and age.low.system = 'http://unitsofmeasure.org' and age.low.code = 'a' and (age.high.empty() or (age.high.value >= age.low.value and age.high.system = 'http://unitsofmeasure.org' and age.high.code = 'a')))"

Invariant: grip-59
Description: "A limit is the low end only, above zero, in UCUM: kgf, [lbf_av] or N, alone or over kg/m2 or m2; reduced is below it, so there is no high end."
Severity: #error
Expression: "(referenceRange | component.referenceRange).all(high.empty() and low.all(value.exists() and value > 0 and comparator.empty() and system = 'http://unitsofmeasure.org' and code.matches('^(kgf|\\\\[lbf_av\\\\]|N)(/\\\\(kg/m2\\\\)|/m2)?$')))"

Invariant: grip-60
Description: "Each component has one of our codes: z-score, percentile, centile-place, source-band, column-female or column-male; a value, no reason for its absence and no modifierExtension."
Severity: #error
Expression: "component.all(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'z-score' or code = 'percentile' or code = 'centile-place' or code = 'source-band' or code = 'column-female' or code = 'column-male')).count() = 1 and value.exists() and dataAbsentReason.empty() and modifierExtension.empty())"

Invariant: grip-61
Description: "The z-score is a quantity in UCUM {z-score}, the percentile one in UCUM % from 0 to 100; they come together, once, and with a value only. The place among centiles and the band of the source are texts, once, and with a value only."
Severity: #error
Expression: "component.where(code.coding.code = 'z-score').count() <= 1 and component.where(code.coding.code = 'z-score').count() = component.where(code.coding.code = 'percentile').count() and component.where(code.coding.code = 'z-score').all(value is Quantity and value.value.exists() and value.comparator.empty() and value.system = 'http://unitsofmeasure.org' and value.code = '{z-score}') and component.where(code.coding.code = 'percentile').all(value is Quantity and value.value >= 0 and value.value <= 100 and value.comparator.empty() and value.system = 'http://unitsofmeasure.org' and value.code = '%') and component.where(code.coding.code = 'centile-place').count() <= 1 and component.where(code.coding.code = 'source-band').count() <= 1 and component.where(code.coding.code = 'centile-place' or code.coding.code = 'source-band').all(value is string) and (value.exists() or component.where(code.coding.code = 'z-score' or code.coding.code = 'percentile' or code.coding.code = 'centile-place' or code.coding.code = 'source-band').empty())"

Invariant: grip-62
Description: "The columns for women and men stand only where there is no value: each says reduced or not-reduced, in words too, with the one range it was read against, whose sex is that of the column."
Severity: #error
Expression: "component.where(code.coding.code = 'column-female' or code.coding.code = 'column-male').all(value is CodeableConcept and value.text.exists() and value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'reduced' or code = 'not-reduced')).count() = 1 and referenceRange.count() = 1 and interpretation.empty()) and component.where(code.coding.code = 'column-female').all(referenceRange.appliesTo.coding.where(code = '248152002').exists()) and component.where(code.coding.code = 'column-male').all(referenceRange.appliesTo.coding.where(code = '248153007').exists()) and (value.exists() implies component.where(code.coding.code = 'column-female' or code.coding.code = 'column-male').empty())"

Invariant: grip-63
Description: "The time is a dateTime."
Severity: #error
Expression: "effective is dateTime"
