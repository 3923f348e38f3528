/** Systems and codes of the cautions before a test: what a site maps its own codes to. */
import { CANONICAL } from './codes.ts';

export const ICD10CM = 'http://hl7.org/fhir/sid/icd-10-cm';
export const GRIP_CAUTIONS = `${CANONICAL}/CodeSystem/grip-testing-caution`;

/** One code for each caution of the released rule (a test compares); a code is never taken away. */
export const CAUTION_DISPLAYS = {
  'recent-hand-surgery': 'Surgery of the hand, wrist or forearm',
  'recent-hand-fracture': 'Fracture of the hand, wrist or forearm',
  'hand-wrist-pain': 'Pain of the hand, wrist or forearm',
  'arthritis-flare': 'Arthritis of the hand or wrist that flares',
  'carpal-tunnel': 'Carpal tunnel syndrome',
  'complex-regional-pain': 'Complex regional pain syndrome of the arm',
  'stroke-affected-side': 'Arm affected by a stroke',
  'neuromuscular-disease': 'Nerve or muscle disease',
  'dialysis-access': 'Access for dialysis in the arm',
  'iv-line-in-arm': 'Intravenous line in the arm',
  lymphoedema: 'Lymphoedema of the arm',
  'cognitive-impairment': 'Impaired cognition',
  'delirium-or-sedation': 'Delirium or sedation',
  'recent-mi': 'Recent myocardial infarction',
  aneurysm: 'Aneurysm',
  'uncontrolled-hypertension': 'Uncontrolled hypertension',
  'recent-eye-or-abdominal-surgery': 'Recent surgery of the eye or abdomen',
  'absent-hand': 'Hand or fingers absent',
} as const;
export type CautionCodeName = keyof typeof CAUTION_DISPLAYS;
