Profile: GripTrial
Parent: Observation
Id: grip-trial
Title: "Grip trial"
Description: "One squeeze of one hand with a dynamometer. What conforms is read as one trial by grip-strength-cds, and each element that the profile names is used. It fits US Core Observation Clinical Result, PACIO clinical test results and IPA."
* insert GripObservation
* insert ForceValue
* status from https://grip-strength-cds.example/fhir/ValueSet/grip-trial-status (required)
* code from https://grip-strength-cds.example/fhir/ValueSet/grip-trial-codes (extensible)
* effective[x] only dateTime or instant or Period
* note MS
* extension contains $body-position named bodyPosition 0..1 MS
* extension[bodyPosition].value[x] only CodeableConcept
* extension[bodyPosition].value[x] 1..1
* extension[bodyPosition].valueCodeableConcept from https://grip-strength-cds.example/fhir/ValueSet/grip-postures (required)
* component ^slicing.discriminator.type = #pattern
* component ^slicing.discriminator.path = "code"
* component ^slicing.rules = #open
* component.modifierExtension 0..0
* component contains
    handlePosition 0..1 MS and
    armPosition 0..1 MS and
    ownBaseline 0..1 MS and
    trialNumber 0..1 MS
* component[handlePosition].code = $grip#handle-position
* component[handlePosition].value[x] 1..1
* component[handlePosition].value[x] only integer
* component[armPosition].code = $grip#arm-position
* component[armPosition].value[x] 1..1
* component[armPosition].value[x] only CodeableConcept
* component[armPosition].valueCodeableConcept from https://grip-strength-cds.example/fhir/ValueSet/grip-arm-positions (required)
* component[ownBaseline].code = $grip#own-baseline
* component[ownBaseline].value[x] 1..1
* component[ownBaseline].value[x] only boolean
* component[trialNumber].code = $grip#trial-number
* component[trialNumber].value[x] 1..1
* component[trialNumber].value[x] only integer
* obeys grip-10 and grip-11 and grip-12 and grip-13 and grip-14 and grip-15 and grip-16 and grip-17 and grip-18 and grip-19 and grip-20 and grip-21 and grip-22 and grip-23 and grip-24

Invariant: grip-10
Description: "The status is final, amended, corrected or preliminary: with any other a figure is not used."
Severity: #error
Expression: "status = 'final' or status = 'amended' or status = 'corrected' or status = 'preliminary'"

Invariant: grip-11
Description: "The code is that of a grip trial: LOINC 83174-3 (right) or 83173-5 (left), not both, or SNOMED CT 251433001."
Severity: #error
Expression: "code.coding.where((system = 'http://loinc.org' and (code = '83174-3' or code = '83173-5')) or (system = 'http://snomed.info/sct' and code = '251433001')).exists() and (code.coding.where(system = 'http://loinc.org' and code = '83174-3').exists() and code.coding.where(system = 'http://loinc.org' and code = '83173-5').exists()).not()"

Invariant: grip-12
Description: "The hand is known: by the LOINC code, or by a body site of one side (structure of a hand, or the bare laterality)."
Severity: #error
Expression: "code.coding.where(system = 'http://loinc.org' and (code = '83174-3' or code = '83173-5')).exists() or bodySite.coding.where(system = 'http://snomed.info/sct' and (code = '78791008' or code = '24028007' or code = '85151006' or code = '7771000')).exists()"

Invariant: grip-13
Description: "Code and body site, and the codings of the body site among themselves, name no two hands."
Severity: #error
Expression: "(code.coding.where(system = 'http://loinc.org' and code = '83174-3').exists() or bodySite.coding.where(system = 'http://snomed.info/sct' and (code = '78791008' or code = '24028007')).exists()).not() or (code.coding.where(system = 'http://loinc.org' and code = '83173-5').exists() or bodySite.coding.where(system = 'http://snomed.info/sct' and (code = '85151006' or code = '7771000')).exists()).not()"

Invariant: grip-14
Description: "The code says nothing else that is read: no height, weight, body mass index, gait speed, chair rises or handedness, and none of our own codes but grip-trial."
Severity: #error
Expression: "code.coding.where((system = 'http://loinc.org' and (code = '8302-2' or code = '29463-7' or code = '39156-5')) or (system = 'http://snomed.info/sct' and code = '364940007') or (system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code != 'grip-trial')).empty()"

Invariant: grip-15
Description: "There is a reading, or a reason why there is none (US Core); never both."
Severity: #error
Expression: "value.exists() xor dataAbsentReason.exists()"

Invariant: grip-16
Description: "The reading is a quantity."
Severity: #error
Expression: "value.exists() implies value is Quantity"

Invariant: grip-17
Description: "The position of the handle is charted once at most, as a whole number from 1 to 5."
Severity: #error
Expression: "component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'handle-position').exists()).count() <= 1 and component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'handle-position').exists()).all(value.ofType(integer).where($this >= 1 and $this <= 5).exists())"

Invariant: grip-18
Description: "The position of the arm is charted once at most, as one of elbow-90-unsupported, elbow-supported and elbow-straight."
Severity: #error
Expression: "component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'arm-position').exists()).count() <= 1 and component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'arm-position').exists()).all(value is CodeableConcept and value.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'elbow-90-unsupported' or code = 'elbow-supported' or code = 'elbow-straight')).count() = 1)"

Invariant: grip-19
Description: "That norms do not fit the hand is charted once at most, as a boolean."
Severity: #error
Expression: "component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'own-baseline').exists()).count() <= 1 and component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'own-baseline').exists()).all(value is boolean)"

Invariant: grip-20
Description: "The number of the trial is charted once at most, as a whole number from 1."
Severity: #error
Expression: "component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'trial-number').exists()).count() <= 1 and component.where(code.coding.where(system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and code = 'trial-number').exists()).all(value.ofType(integer).where($this >= 1 and $this <= 2147483647).exists())"

Invariant: grip-21
Description: "The position of the body is charted once at most, in SNOMED CT as sitting (33586001), standing (10904000) or lying (102538003, 40199007), and no two of them."
Severity: #error
Expression: "extension.where(url = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition').count() <= 1 and extension.where(url = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition').all(value is CodeableConcept and value.coding.where(system = 'http://snomed.info/sct' and (code = '33586001' or code = '10904000' or code = '102538003' or code = '40199007')).count() = 1)"

Invariant: grip-22
Description: "No component has a modifierExtension."
Severity: #error
Expression: "component.modifierExtension.empty()"

Invariant: grip-23
Description: "The method calls the reading no statistic (mean, maximum and the like) of several: it is one squeeze."
Severity: #error
Expression: "method.coding.where(system = 'http://terminology.hl7.org/CodeSystem/observation-statistics').empty()"

Invariant: grip-24
Description: "No component is a figure of grip strength of its own: one squeeze is one Observation."
Severity: #error
Expression: "component.code.coding.where((system = 'http://loinc.org' and (code = '83174-3' or code = '83173-5')) or (system = 'http://snomed.info/sct' and code = '251433001') or (system = 'https://grip-strength-cds.example/fhir/CodeSystem/grip-strength' and (code = 'grip-trial' or code = 'mean-per-hand' or code = 'highest-per-hand' or code = 'highest-of-either-hand' or code = 'mean-of-both-hands'))).empty()"
