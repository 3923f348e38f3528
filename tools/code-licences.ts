/** Whose codes stand in terminology/; no licence of theirs is this project's to give. */
import { ICD10CM } from '../src/fhir/caution-codes.ts';
import { LOINC, SNOMED, UCUM } from '../src/fhir/codes.ts';

export const COPYRIGHT: Readonly<Record<string, string>> = {
  [LOINC]:
    'LOINC is copyright of Regenstrief Institute, Inc. and the LOINC Committee, under the licence at http://loinc.org/license.',
  [SNOMED]:
    'SNOMED CT is copyright of SNOMED International; outside its member countries its use needs a licence.',
  [ICD10CM]:
    'ICD-10-CM is maintained by the US National Center for Health Statistics and CMS, from the ICD-10 of WHO.',
  [UCUM]: 'UCUM is copyright of Regenstrief Institute, Inc., under the licence at https://ucum.org/license.',
};
