// What this software writes (STANDARDS of the base: FI1 to FI9). An accepted result keeps the label: it says who
// asserted the figure, not who believes it.

RuleSet: MachineMade
* meta.security MS
* text MS
* identifier MS
* issued MS
* note MS
* obeys grip-30 and grip-31 and grip-32 and grip-33 and grip-34 and grip-35 and grip-36

Invariant: grip-30
Description: "What this software made is labelled AIAST, asserted by an algorithm: always when its method or device names grip-strength-cds."
Severity: #error
Expression: "(method.text.exists(startsWith('grip-strength-cds')) or device.display.exists(startsWith('grip-strength-cds')) or device.reference.exists(matches('^(.*/)?Device/grip-strength-cds-'))) implies meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists()"

Invariant: grip-31
Description: "What is labelled AIAST has an identifier of the form urn:uuid, by which a repeat is recognised; one of that form only."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies identifier.where(system = 'urn:ietf:rfc:3986' and value.exists() and value.matches('^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$')).count() = 1"

Invariant: grip-32
Description: "What is labelled AIAST says how it was made: method.text with the software and its version, and a device by reference or name."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies (method.text.exists() and method.text.matches('^[A-Za-z0-9._-]+ [0-9]+\\\\.[0-9]+\\\\.[0-9]+') and (device.reference.exists() or device.display.exists()))"

Invariant: grip-33
Description: "What is labelled AIAST names what it was derived from: each source once, by a reference to an Observation or by a name."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies (derivedFrom.exists() and derivedFrom.all(reference.exists() or display.exists()) and derivedFrom.reference.isDistinct() and derivedFrom.all(reference.empty() or reference.matches('^(.*/)?Observation/[A-Za-z0-9.-]{1,64}(/_history/[A-Za-z0-9.-]{1,64})?$|^urn:(uuid|oid):[0-9A-Za-z.-]+$|^#[A-Za-z0-9.-]{1,64}$')) and derivedFrom.type.all($this = 'Observation'))"

Invariant: grip-34
Description: "What is labelled AIAST has the moment of its making (issued), a narrative and at least one note."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies (issued.exists() and issued.toString().substring(0, 10).matches('^([0-9]{4}-((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))|([0-9]{2}(0[48]|[2468][048]|[13579][26])|([02468][048]|[13579][26])00)-02-29)$') and text.exists() and note.exists())"

Invariant: grip-35
Description: "What is labelled AIAST has `functional-status` of the US Core categories."
Severity: #error
Expression: "meta.security.where(system = 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue' and code = 'AIAST').exists() implies category.coding.where(system = 'http://hl7.org/fhir/us/core/CodeSystem/us-core-category' and code = 'functional-status').exists()"

Invariant: grip-36
Description: "The body site, where there is one, is the structure of one hand in SNOMED CT: 78791008 (right) or 85151006 (left), not both."
Severity: #error
Expression: "bodySite.all(coding.where(system = 'http://snomed.info/sct' and (code = '78791008' or code = '85151006')).count() = 1)"
