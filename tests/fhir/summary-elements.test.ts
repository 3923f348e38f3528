/** The table of summary elements against the JSON of R4 and the rules of the standard, not against its generator. */
import type { StructureDefinition } from 'fhir/r4.js';
import { describe, expect, it } from 'vitest';
import { ELEMENTS_OF_TYPE } from '../../src/fhir/summary-elements.ts';
import { BASE } from '../profiles/definitions.ts';
import { judgeByJsonSchema } from '../profiles/judges.ts';

const types = [...ELEMENTS_OF_TYPE];

describe('elements of the served types', () => {
  it.each(types)('%s: each is in R4 where and as the table says, and none is forgotten', (type, elements) => {
    const definition = BASE.get(type) as StructureDefinition;
    const wanted = { summary: new Set<string>(), mandatory: new Set<string>(), modifier: new Set<string>() };
    for (const { path, isSummary, isModifier, min, type: of } of definition.snapshot?.element ?? []) {
      const [, name, below] = path.split('.');
      if (!name || below) continue;
      const names = name.endsWith('[x]')
        ? (of ?? []).map(({ code }) => name.slice(0, -3) + code[0]?.toUpperCase() + code.slice(1))
        : [name];
      for (const each of names) {
        if (isSummary) wanted.summary.add(each);
        if (min) wanted.mandatory.add(each);
        if (isModifier) wanted.modifier.add(each);
      }
    }
    expect(elements).toEqual(wanted);
  });

  it.each(types)(
    '%s: id, meta and implicitRules are of a summary, modifiers are known',
    (_type, elements) => {
      for (const name of ['id', 'meta', 'implicitRules']) expect(elements.summary).toContain(name);
      for (const name of ['implicitRules', 'modifierExtension']) expect(elements.modifier).toContain(name);
      for (const name of elements.mandatory) expect(name).toMatch(/^[a-z][A-Za-z]+$/);
    },
  );

  it.each(types)('%s: an element that HL7 JSON schema requires is mandatory', (type, { mandatory }) => {
    // The schema lists what is not a primitive only: status may come as _status.
    const required = judgeByJsonSchema({ resourceType: type }).flatMap(
      ({ rule }) => /required property '(\w+)'/.exec(rule)?.[1] ?? [],
    );
    for (const name of required) expect(mandatory).toContain(name);
  });

  it('choices go by their names in JSON', () => {
    expect(ELEMENTS_OF_TYPE.get('Observation')?.summary).toContain('valueQuantity');
    expect(ELEMENTS_OF_TYPE.get('Observation')?.summary).toContain('effectiveDateTime');
    expect([...ELEMENTS_OF_TYPE.values()].flatMap(({ summary }) => [...summary]).join()).not.toContain('[x]');
  });
});
