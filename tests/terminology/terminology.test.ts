import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import {
  DOMINANCE_OF_SNOMED,
  GRIP_LOINC,
  GRIP_SNOMED,
  HAND_STRUCTURE,
  HANDEDNESS_SNOMED,
  LOINC,
  MEASURE_CODES,
  POSTURE_OF_SNOMED,
  SEX_SNOMED,
  SIDE_OF_SNOMED,
} from '../../src/fhir/codes.ts';
import { generatedFiles } from '../../tools/generated.ts';

const root = new URL('../../', import.meta.url);
const read = (path: string) => readFileSync(new URL(path, root), 'utf8');

describe('generated files', () => {
  for (const [path, content] of generatedFiles(read('DEVELOPERS.md'))) {
    it(`${path} follows from the code tables (npm run generate)`, () => {
      expect(read(path)).toBe(content);
    });
  }
});

describe('code systems', () => {
  const files = readdirSync(new URL('terminology/', root)).filter((file) => file.startsWith('CodeSystem-'));
  for (const file of files) {
    it(`${file} has no code twice and a display for each`, () => {
      const { concept, count, url } = JSON.parse(read(`terminology/${file}`));
      const codes = concept.map(({ code }: { code: string }) => code);
      expect(new Set(codes).size).toBe(codes.length);
      expect(count).toBe(codes.length);
      expect(concept.every(({ display }: { display?: string }) => (display ?? '').length > 0)).toBe(true);
      expect(file).toBe(`CodeSystem-${url.split('/').at(-1)}.json`);
    });
  }
});

/** LOINC part 1 of the users' guide: the last digit is a mod-10 (Luhn) check digit. */
function loincCheckDigitHolds(code: string): boolean {
  const [number = '', check] = code.split('-');
  const digits = [...number].reverse().map(Number);
  const total = digits.reduce((sum, digit, index) => {
    const doubled = index % 2 === 0 ? digit * 2 : digit;
    return sum + (doubled > 9 ? doubled - 9 : doubled);
  }, 0);
  return String((10 - (total % 10)) % 10) === check;
}

const D = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 2, 3, 4, 0, 6, 7, 8, 9, 5],
  [2, 3, 4, 0, 1, 7, 8, 9, 5, 6],
  [3, 4, 0, 1, 2, 8, 9, 5, 6, 7],
  [4, 0, 1, 2, 3, 9, 5, 6, 7, 8],
  [5, 9, 8, 7, 6, 0, 4, 3, 2, 1],
  [6, 5, 9, 8, 7, 1, 0, 4, 3, 2],
  [7, 6, 5, 9, 8, 2, 1, 0, 4, 3],
  [8, 7, 6, 5, 9, 3, 2, 1, 0, 4],
  [9, 8, 7, 6, 5, 4, 3, 2, 1, 0],
];
const P = [
  [0, 1, 2, 3, 4, 5, 6, 7, 8, 9],
  [1, 5, 7, 6, 2, 8, 3, 0, 9, 4],
  [5, 8, 0, 3, 7, 9, 6, 1, 4, 2],
  [8, 9, 1, 6, 0, 4, 3, 5, 2, 7],
  [9, 4, 5, 3, 1, 2, 6, 8, 7, 0],
  [4, 2, 8, 6, 5, 7, 3, 9, 0, 1],
  [2, 7, 9, 3, 8, 0, 6, 4, 1, 5],
  [7, 0, 4, 6, 9, 1, 3, 2, 5, 8],
];

/** SNOMED CT technical implementation guide: the last digit of an identifier is a Verhoeff check digit. */
function snomedCheckDigitHolds(code: string): boolean {
  const digits = [...code].reverse().map(Number);
  return digits.reduce((check, digit, index) => D[check]?.[P[index % 8]?.[digit] ?? 0] ?? -1, 0) === 0;
}

describe('check digits', () => {
  const measures = Object.values(MEASURE_CODES).flatMap(({ system, code }) =>
    system === LOINC ? [code] : [],
  );
  it.each([...Object.values(GRIP_LOINC), ...measures])('LOINC %s', (code) => {
    expect(loincCheckDigitHolds(code)).toBe(true);
  });

  it('finds a LOINC code that public mappings have wrong', () => {
    expect(loincCheckDigitHolds('83189-2')).toBe(false);
  });

  const snomed = [
    GRIP_SNOMED,
    ...Object.keys(SIDE_OF_SNOMED),
    ...Object.values(HAND_STRUCTURE).map(({ code }) => code),
    ...Object.values(SEX_SNOMED).map(({ code }) => code),
    HANDEDNESS_SNOMED,
    ...Object.keys(DOMINANCE_OF_SNOMED),
    ...Object.keys(POSTURE_OF_SNOMED),
  ];
  it.each(snomed)('SNOMED CT %s', (code) => {
    expect(snomedCheckDigitHolds(code)).toBe(true);
  });

  it('finds a SNOMED CT code with one digit changed', () => {
    expect(snomedCheckDigitHolds('251433002')).toBe(false);
  });
});
