/** terminology/ValueSet-grip-testing-*.json: the codes of the newest rule of cautions, one value set for each. */
import type { ValueSet } from 'fhir/r4.js';
import { CAUTION_DISPLAYS, type CautionCodeName, GRIP_CAUTIONS, ICD10CM } from '../src/fhir/caution-codes.ts';
import { CANONICAL, SNOMED } from '../src/fhir/codes.ts';
import { openLibrary } from '../src/service.ts';
import { COPYRIGHT } from './code-licences.ts';
import { PUBLISHER } from './generated-terminology.ts';

const [RULE] = openLibrary()
  .releases.rules.filter(({ ref }) => ref.id === 'testing-cautions')
  .toSorted((a, b) => b.ref.version.localeCompare(a.ref.version, 'en', { numeric: true }));

/** At the version of their rule, not of the package: the rule names each with its digest. */
export function cautionValueSets(): readonly ValueSet[] {
  if (RULE?.file.form !== 'testing-cautions') throw new Error('norms/ has no rule testing-cautions');
  const { version, released, parameters } = RULE.file;
  return parameters.cautions.map((caution): ValueSet => {
    const { title, weight, scope, practice, basis, evidence, note, window } = caution;
    const id = `grip-testing-${caution.id}`;
    const own = { code: caution.id, display: CAUTION_DISPLAYS[caution.id as CautionCodeName] };
    const include = [SNOMED, ICD10CM].flatMap((system) => {
      const codes = caution.codes.filter((each) => each.system === system);
      return codes.length > 0
        ? [{ system, concept: codes.map(({ code, display }) => ({ code, display })) }]
        : [];
    });
    return {
      resourceType: 'ValueSet',
      id,
      url: `${CANONICAL}/ValueSet/${id}`,
      version,
      name: id.replace(/(?:^|-)(\w)/g, (_all, letter: string) => letter.toUpperCase()),
      title: `Before a grip test: ${title}`,
      status: 'active',
      experimental: false,
      date: released,
      publisher: PUBLISHER,
      description:
        `Codes of records that are named before a test of grip strength: ${title}. ` +
        `Weight: ${weight}; about the ${scope}. Evidence: ${evidence}.${note ? ` Note: ${note}.` : ''}` +
        `${window ? ` ${window.reason}` : ''} Displays are copied as labels of the codes.`,
      immutable: false,
      purpose: `Usual practice: ${practice}. Basis: ${basis}. It names what to weigh and forbids nothing.`,
      copyright: include.flatMap(({ system }) => COPYRIGHT[system] ?? []).join(' ') || OWN_ONLY,
      compose: { include: [...include, { system: GRIP_CAUTIONS, concept: [own] }] },
    };
  });
}

const OWN_ONLY = 'Codes of this package only.';
