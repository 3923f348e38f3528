/** The rule of cautions before a test in words, as lines for a terminal. */
import type { RuleFile } from '../reference/rule-forms.ts';

type Parameters = Extract<RuleFile, { form: 'testing-cautions' }>['parameters'];
type Caution = Parameters['cautions'][number];

export function cautionLines({ ownCodes, longPast, cautions, leftOut }: Parameters): readonly string[] {
  return [
    `A site maps codes of its own to: ${ownCodes}`,
    `Long past: more than ${longPast.days} days. ${longPast.reason}`,
    ...cautions.flatMap(linesOf),
    'Left out:',
    ...leftOut.map(
      ({ system, code, display, reason, source }) => `  ${system} ${code} ${display} (${source}): ${reason}`,
    ),
  ];
}

function linesOf(caution: Caution): readonly string[] {
  const { id, title, source, action, weight, scope, whenPast, window, valueSet } = caution;
  const { practice, practiceAlone, basis, evidence, said, note, codes, whenLongPast, whenNotDue } = caution;
  return [
    `${id}: ${title} (${source}: ${action}); ${weight}, ${scope}, when past: ${whenPast}; when long past: ${whenLongPast?.as ?? 'as before'}; when no test is due: ${whenNotDue}`,
    `  Usual practice: ${practice}`,
    ...(practiceAlone ? [`  Where the other arm is not free: ${practiceAlone}`] : []),
    `  Basis: ${basis}: ${said ? `${said} (${evidence})` : evidence}`,
    ...(note ? [`  Note: ${note}`] : []),
    window ? `  Window: ${window.days} days. ${window.reason}` : '  Window: none; the date is shown',
    `  Value set: ${valueSet.url}|${valueSet.version} sha256:${valueSet.sha256}`,
    ...codes.map(codeLine),
  ];
}

function codeLine(code: Caution['codes'][number]): string {
  const marks = [
    code.short && `in short: ${code.short}`,
    code.askUnsided,
    code.hand,
    code.dominance,
    code.siteOfLesion && 'the side of a record may be that of the lesion',
    code.weight,
    code.remark,
    `seen in ${code.seenIn}`,
  ];
  return `  ${code.system} ${code.code} ${code.display} (${marks.filter(Boolean).join('; ')})`;
}
