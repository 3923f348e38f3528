/** What a summary calls a finding of readiness: a few words that say only what the record says. */
import type { CautionCode, ReadinessFinding, TestingCaution } from '../interpret/testing-caution.ts';
import { partialDateText } from './readiness-dates.ts';

/** The code of the rule that a finding rests on; undefined for a site's own code and for a body site. */
export function codeOf({ code }: ReadinessFinding, { codes }: TestingCaution): CautionCode | undefined {
  return codes.find((each) => each.system === code?.system && each.code === code?.code);
}

/** e.g. `fracture (2023)`, `hand surgery, no date`, `a procedure at the left hand`. */
export function shortText(finding: ReadinessFinding, caution: TestingCaution): string {
  const { state, date, dateMissing, dateCoarse, olderThan } = finding;
  if (!finding.code) return `a procedure at ${placeText(finding)}`;
  const short = codeOf(finding, caution)?.short ?? caution.short;
  if (state === 'maybe-done' && date) return `${short} planned for ${partialDateText(date)} (done?)`;
  if (dateMissing) return `${short}, no date`;
  if (state === 'past') return short;
  if ((olderThan || dateCoarse) && date) return `${short} (${date.slice(0, 4)})`;
  return caution.window ? `recent ${short}` : short;
}

function placeText({ place }: ReadinessFinding): string {
  return place === 'right' || place === 'left' ? `the ${place} hand` : 'a hand';
}
