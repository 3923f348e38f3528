/** What stops the start: files that do not fit together. Each test breaks one thing in a copy of norms/. */
import { describe, expect, it } from 'vitest';
import { faultOf, type Json, normsWith } from './altered-norms.ts';

const TABLE = 'tables/mathiowetz-1985-us-adults/1.0.0.json';
const CUT_POINTS = 'cut-points/ewgsop2-2019/1.0.0.json';
const RULE = 'rules/two-sd-below-mean/1.0.0.json';
const PANEL = 'panels/adult-inpatient-us/1.0.0.json';

describe('a table whose rows do not fit together', () => {
  const bands = (change: (rows: Json[]) => void) => faultOf(normsWith(TABLE, (file) => change(file.rows)));

  it('is named when two bands overlap', () => {
    expect(bands((rows) => Object.assign(rows[0], { ageMax: 25 }))).toBe(
      `norms/${TABLE}: male right bands from 20 and 25 overlap or leave a gap`,
    );
  });

  it('is named when a year lies between two bands', () => {
    expect(bands((rows) => Object.assign(rows[13], { ageMax: 28 }))).toBe(
      `norms/${TABLE}: male left bands from 25 and 30 overlap or leave a gap`,
    );
  });

  it('is named when an open band is not the last', () => {
    expect(bands((rows) => Object.assign(rows[3], { ageMax: null }))).toContain(
      'bands from 35 and 40 overlap',
    );
  });

  it('is named when one column covers other ages than the rest', () => {
    expect(bands((rows) => rows.shift())).toContain('columns cover different ages (20 to null; 25 to null)');
    expect(bands((rows) => Object.assign(rows[11], { ageMax: 94 }))).toContain(
      'columns cover different ages',
    );
  });

  it('is named when a column is missing, or there is one that the summary does not have', () => {
    expect(
      bands((rows) => rows.splice(0, rows.length, ...rows.filter((row) => row.sex === 'male'))),
    ).toContain('female right is missing');
    expect(bands((rows) => rows.push({ ...rows[0], hand: null }))).toContain(
      'a hand that its summary does not have',
    );
  });

  it('is named when a band ends before it begins', () => {
    expect(bands((rows) => Object.assign(rows[11], { ageMax: 60 }))).toContain('ends before it begins');
  });

  it('is named when a limit is not above zero, or an SD is zero', () => {
    expect(bands((rows) => Object.assign(rows[0], { sd: '60.5' }))).toContain(
      'male right from 20: the limit is not above zero',
    );
    expect(bands((rows) => Object.assign(rows[0], { sd: '0.0' }))).toContain(
      'male right from 20: SD is zero',
    );
  });
});

describe('what may not drive a result', () => {
  it.each(['one-source', 'from-memory'])(
    'a row that is %s stops a panel that names its table',
    (verification) => {
      const folder = normsWith(TABLE, (file) => Object.assign(file.rows[5], { verification }));
      expect(faultOf(folder)).toBe(
        `norms/${TABLE}: male right from 45 is ${verification}: it may not drive a result`,
      );
    },
  );

  it('a cut-point from memory does so too', () => {
    const folder = normsWith(CUT_POINTS, (file) =>
      Object.assign(file.rows[0], { verification: 'from-memory' }),
    );
    expect(faultOf(folder)).toContain('is from-memory: it may not drive a result');
  });

  it.each([
    [TABLE, 'mathiowetz-1985-us-adults'],
    [CUT_POINTS, 'ewgsop2-2019'],
  ])('a set that is provisional stops a panel that names it: %s', (path, id) => {
    const folder = normsWith(path, (file) => Object.assign(file, { status: 'provisional' }));
    expect(faultOf(folder)).toBe(
      `norms/${PANEL} names ${id} 1.0.0, which is provisional: it may not drive a result`,
    );
  });
});

describe('a worked example that does not come out', () => {
  it.each<[string, string, (file: Json) => void, string, number]>([
    [
      'the limit',
      TABLE,
      (file) => Object.assign(file.rows[24], { mean: '70.5' }),
      'the limit is not 41.4',
      1,
    ],
    [
      'the outcome',
      TABLE,
      (file) => Object.assign(file.examples[1].given, { value: '41.4' }),
      'the outcome is reduced, not not-reduced',
      2,
    ],
    [
      'the person',
      TABLE,
      (file) => Object.assign(file.examples[2].given, { ageYears: 19 }),
      'no row for this person',
      3,
    ],
    [
      'the unit',
      TABLE,
      (file) => Object.assign(file.examples[3].given, { value: '36.1' }),
      'the outcome is reduced',
      4,
    ],
    [
      'the strictness',
      CUT_POINTS,
      (file) => Object.assign(file.rows[0], { operator: '<=' }),
      'the outcome is reduced, not not-reduced',
      1,
    ],
    [
      'the figure',
      CUT_POINTS,
      (file) => Object.assign(file.rows[1], { value: '18' }),
      'the limit is not 16',
      3,
    ],
  ])('because of %s is named', (_what, path, change, message, number) => {
    expect(faultOf(normsWith(path, change))).toMatch(
      new RegExp(`^norms/${path} example ${number}: ${message}`),
    );
  });

  it('because of a changed rule is named with the table that shows it', () => {
    const folder = normsWith(RULE, (file) => Object.assign(file.parameters, { operator: '<' }));
    expect(faultOf(folder)).toContain(`norms/${TABLE} example 1: the outcome is not-reduced, not reduced`);
  });
});

describe('a panel that cannot be applied', () => {
  it.each<[string, (file: Json) => void, string]>([
    [
      'an unknown set',
      (file) => Object.assign(file.entries[0].set, { version: '2.0.0' }),
      'names mathiowetz-1985-us-adults 2.0.0, which is not in norms/',
    ],
    [
      'a set of another kind',
      (file) => Object.assign(file.entries[2].set, { kind: 'table' }),
      'names ewgsop2-2019 1.0.0, which is not in norms/',
    ],
    [
      'an unknown rule for a table',
      (file) => Object.assign(file.entries[1].rule, { id: 'three-sd' }),
      'needs rule three-sd 1.0.0 of form sd-below-mean, which is not in norms/',
    ],
    [
      'a rule of another form',
      (file) => Object.assign(file.rules, { scatter: file.rules.bounds }),
      'needs rule reading-bounds 1.0.0 of form trial-scatter, which is not in norms/',
    ],
    [
      'an unknown rule for the trials',
      (file) => Object.assign(file.rules.session, { version: '1.0.1' }),
      'needs rule session-gap 1.0.1 of form session-gap, which is not in norms/',
    ],
    [
      'a table without its rule',
      (file) => delete file.entries[0].rule,
      'names table mathiowetz-1985-us-adults without the rule it is read by',
    ],
  ])('for %s is named', (_what, change, message) => {
    expect(faultOf(normsWith(PANEL, change))).toBe(`norms/${PANEL} ${message}`);
  });

  it('for a summary that neither set nor panel states names the set', () => {
    const folder = normsWith(PANEL, (file) => delete file.entries[3].summaryWhenUnstated);
    expect(faultOf(folder)).toContain('norms/cut-points/sdoc-2020/1.0.0.json states no summary');
  });
});
