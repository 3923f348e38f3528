Profile: GripHandSummary
Parent: Observation
Id: grip-hand-summary
Title: "Grip hand summary"
Description: "The figure that stands for the trials of a hand or of the person: the mean or the highest of a hand, the highest of either hand, or the mean of the highest of both. Written by grip-strength-cds (then labelled AIAST, with its sources), and read as an already averaged value that a hospital charts, which cannot be verified from the trials. It fits US Core Observation Clinical Result."
* insert GripObservation
* insert ForceValue
* insert MachineMade
* status from https://grip-strength-cds.example/fhir/ValueSet/grip-result-status (required)
* code from https://grip-strength-cds.example/fhir/ValueSet/grip-summary-kinds (extensible)
* effective[x] only dateTime or instant or Period
* value[x] 1..1
* dataAbsentReason 0..0
* obeys grip-40 and grip-41 and grip-42 and grip-43 and grip-44 and grip-45 and grip-46

Invariant: grip-40
Description: "The status is preliminary, final, amended, corrected or entered-in-error."
Severity: #error
Expression: "status = 'preliminary' or status = 'final' or status = 'amended' or status = 'corrected' or status = 'entered-in-error'"

Invariant: grip-41
Description: "The code names exactly one kind of summary: mean-per-hand, highest-per-hand, highest-of-either-hand or mean-of-both-hands, and none of our other codes."
Severity: #error
Expression: "code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength').count() = 1 and code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength').all(code = 'mean-per-hand' or code = 'highest-per-hand' or code = 'highest-of-either-hand' or code = 'mean-of-both-hands')"

Invariant: grip-42
Description: "A kind of one hand has the body site of that hand; a kind of either or both hands has no body site."
Severity: #error
Expression: "iif(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'mean-per-hand' or code = 'highest-per-hand')).exists(), bodySite.exists(), bodySite.empty())"

Invariant: grip-43
Description: "The code is neither that of a single trial (LOINC 83174-3, 83173-5) nor one of the NIH Toolbox or PhenX grip instruments, whose scores are something else."
Severity: #error
Expression: "code.coding.where(system = 'http://loinc.org' and (code = '83174-3' or code = '83173-5' or code = '83145-3' or code = '83175-0' or code = '83176-8' or code = '84418-3' or code = '84416-7' or code = '84417-5' or code = '84419-1' or code = '62821-4')).empty()"

Invariant: grip-44
Description: "The value is a quantity, and there is no reason for its absence."
Severity: #error
Expression: "value.exists() and value is Quantity and dataAbsentReason.empty()"

Invariant: grip-45
Description: "What is labelled AIAST is in a unit of force: kgf, [lbf_av] or N."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies (value.code = 'kgf' or value.code = '[lbf_av]' or value.code = 'N')"

Invariant: grip-46
Description: "What is labelled AIAST is a figure only, not a reading of it: no interpretation, reference range or component."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies (interpretation.empty() and referenceRange.empty() and component.empty())"
