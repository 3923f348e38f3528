RuleSet: InterpretGripParameter(index, name, use, min, max, type, documentation)
* parameter[{index}].name = #{name}
* parameter[{index}].use = #{use}
* parameter[{index}].min = {min}
* parameter[{index}].max = "{max}"
* parameter[{index}].type = #{type}
* parameter[{index}].documentation = {documentation}

Instance: Observation-interpret-grip
InstanceOf: OperationDefinition
Usage: #definition
* url = "https://grip-strength-cds.example/fhir/OperationDefinition/Observation-interpret-grip"
* version = "0.3.0"
* name = "InterpretGrip"
* title = "Interpret grip strength"
* status = #active
* kind = #operation
* experimental = false
* date = "2026-11-25"
* publisher = "grip-strength-cds"
* description = "Reads grip strength trials of one person against the reference sets of a panel. It puts each answer on record and stores the Observations that it returns, so it is called with POST only. A trial or set that cannot be read is a refusal in the answer, not an error."
* affectsState = true
* code = #interpret-grip
* comment = "The body is Parameters. A Bundle alone may be posted instead: it then stands for the parameter `bundle`. `bundle` takes the place of `patient`, `observation`, `prior` and `device`; `panel` and `asOf` may stand beside it. There is exactly one Patient, in `bundle` or as `patient`, or one that every Observation contains; data of anybody else stop the call. Parameters of other names are refused."
* resource = #Observation
* system = false
* type = true
* instance = false
* insert InterpretGripParameter(0, bundle, in, 0, 1, Bundle, [["The Patient, the trials, what else the record holds about the person, and the instruments, as a collection, searchset or batch of resources."]])
* insert InterpretGripParameter(1, patient, in, 0, 1, Patient, [["Whose trials they are. Needed unless the Patient is in `bundle`."]])
* insert InterpretGripParameter(2, observation, in, 0, *, Observation, [["Grip trials, and height, weight, body mass index, gait speed, chair rises and handedness, which some sets need."]])
* insert InterpretGripParameter(3, prior, in, 0, *, Observation, [["Earlier measurements: used for the change since then only."]])
* insert InterpretGripParameter(4, device, in, 0, *, Resource, [["Instruments: each a Device, or a DeviceMetric with its calibration."]])
* insert InterpretGripParameter(5, panel, in, 0, 1, code, [["The id of the panel of reference sets and rules. Without it: the panel of the installation."]])
* insert InterpretGripParameter(6, asOf, in, 0, 1, date, [["Year, month and day. What was measured later is refused. Without it: now."]])
* insert InterpretGripParameter(7, return, out, 1, 1, Bundle, [["A collection: hand summaries and interpretations (profiles grip-hand-summary and grip-interpretation), the software as a Device, Provenance, and an OperationOutcome with refusals, cautions and changes."]])
