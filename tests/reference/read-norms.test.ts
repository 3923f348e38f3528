/** What stops the start: files that are not what was released. Each test breaks one thing in a copy of norms/. */
import { cpSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { loadLibrary } from '../../src/reference/library.ts';
import { NORMS } from '../interpret/build.ts';
import { copyOfNorms, faultOf, type Json, normsWith, relock, sha256 } from './altered-norms.ts';

const TABLE = 'tables/mathiowetz-1985-us-adults/1.0.0.json';
const SURVEY = 'tables/nhanes-2011-2014-right-left-mean-of-3/1.0.0.json';
const CUT_POINTS = 'cut-points/ewgsop2-2019/1.0.0.json';
const RULE = 'rules/two-sd-below-mean/1.0.0.json';
const PANEL = 'panels/adult-inpatient-us/1.0.0.json';

it('an unchanged copy loads, so that each fault below is the one made', () => {
  const folder = copyOfNorms();
  relock(folder);
  expect(loadLibrary(folder).panelIds).toContain('adult-inpatient-us');
  expect(loadLibrary(folder).panelIds).toEqual(loadLibrary(NORMS).panelIds);
});

describe('a file that differs from its lock', () => {
  it.each([
    [TABLE, '"70.4"', '"70.5"'],
    [CUT_POINTS, '"value": "27"', '"value": "26"'],
    [RULE, '"sdBelow": "2"', '"sdBelow": "1"'],
    [PANEL, '"years": 65', '"years": 60'],
  ])('%s is named with both digests when one digit is changed', (path, from, to) => {
    const folder = copyOfNorms();
    const file = join(folder, path);
    const before = sha256(file);
    const text = readFileSync(file, 'utf8');
    expect(text).toContain(from);
    writeFileSync(file, text.replace(from, to));
    const message = faultOf(folder);
    expect(message).toContain(`norms/${path}`);
    expect(message).toContain(`SHA-256 is ${sha256(file)}`);
    expect(message).toContain(before);
    expect(message).toMatch(/\. Restore the file; a correction is a new version beside it\.$/);
  });

  it('is named even when only white space was added', () => {
    const folder = copyOfNorms();
    writeFileSync(join(folder, RULE), `${readFileSync(join(folder, RULE), 'utf8')}\n`);
    expect(faultOf(folder)).toContain(`norms/${RULE} was changed after release`);
  });

  it('is named when it is missing', () => {
    const folder = copyOfNorms();
    rmSync(join(folder, SURVEY));
    expect(faultOf(folder)).toBe(`norms/${SURVEY} is in norms/lock.json but missing`);
  });

  it('is named with its digest when the lock does not have it', () => {
    const folder = copyOfNorms();
    const added = 'rules/two-sd-below-mean/1.0.1.json';
    cpSync(join(folder, RULE), join(folder, added));
    const message = faultOf(folder);
    expect(message).toContain(`norms/${added} is not in norms/lock.json`);
    expect(message).toContain(sha256(join(folder, added)));
  });

  it.each(['[]', '{"tables/x/1.0.0.json": "abc"}', '{"tables/x/1.0.0.json": 1}'])(
    'is told from a lock that is no lock: %s',
    (lock) => {
      const folder = copyOfNorms();
      writeFileSync(join(folder, 'lock.json'), lock);
      expect(faultOf(folder)).toBe('norms/lock.json is not a list of paths with SHA-256 digests');
    },
  );
});

describe('a file whose form is wrong', () => {
  it('is named with the place: a figure as a JSON number loses its printed digits', () => {
    const folder = normsWith(TABLE, (file) => {
      file.rows[0].mean = 121.0;
    });
    expect(faultOf(folder)).toContain(`norms/${TABLE} at rows.0.mean`);
  });

  it.each<[string, (file: Json) => void, string]>([
    ['an unknown field', (file) => Object.assign(file, { note: 'x' }), 'top'],
    ['no licence', (file) => delete file.licence, 'licence'],
    ['an empty citation', (file) => Object.assign(file.citation, { authors: '' }), 'citation.authors'],
    ['no rows', (file) => Object.assign(file, { rows: [] }), 'rows'],
    ['no worked example', (file) => Object.assign(file, { examples: [] }), 'examples'],
    ['a figure with a sign', (file) => Object.assign(file.rows[1], { sd: '-1' }), 'rows.1.sd'],
    ['a unit that is not a force scale', (file) => Object.assign(file, { unit: 'lbs' }), 'unit'],
    ['an age that is no age', (file) => Object.assign(file.rows[2], { ageMin: 20.5 }), 'rows.2.ageMin'],
  ])('is named with the place for %s', (_what, change, place) => {
    expect(faultOf(normsWith(TABLE, change))).toContain(`norms/${TABLE} at ${place}:`);
  });

  it.each(['{', '\uFFFE'])('is named when it is not JSON', (content) => {
    const folder = copyOfNorms();
    writeFileSync(join(folder, RULE), content);
    relock(folder);
    expect(faultOf(folder)).toBe(`norms/${RULE} is not JSON in UTF-8`);
  });

  it('is named when it is not UTF-8', () => {
    const folder = copyOfNorms();
    writeFileSync(
      join(folder, RULE),
      Buffer.from(readFileSync(join(folder, RULE), 'utf8').replace('Two', 'Tw\xf6'), 'latin1'),
    );
    relock(folder);
    expect(faultOf(folder)).toBe(`norms/${RULE} is not JSON in UTF-8`);
  });
});

describe('a file whose path and content disagree', () => {
  it.each<[string, (file: Json) => void]>([
    ['version', (file) => Object.assign(file, { version: '1.0.1' })],
    ['id', (file) => Object.assign(file, { id: 'ewgsop2-2020' })],
  ])('about the %s is named', (_what, change) => {
    expect(faultOf(normsWith(CUT_POINTS, change))).toMatch(`norms/${CUT_POINTS} says it is ewgsop2-20`);
  });

  it('about the folder is named', () => {
    const folder = copyOfNorms();
    renameSync(join(folder, 'cut-points/ewgsop2-2019'), join(folder, 'cut-points/ewgsop'));
    relock(folder);
    expect(faultOf(folder)).toContain('norms/cut-points/ewgsop/1.0.0.json says it is ewgsop2-2019 1.0.0');
  });
});

describe('a folder that is not as it should be', () => {
  it('is named when the lock is missing', () => {
    const folder = copyOfNorms();
    rmSync(join(folder, 'lock.json'));
    expect(faultOf(folder)).toBe('norms/lock.json is missing');
  });

  it('is named when a file lies in no known folder', () => {
    const folder = copyOfNorms();
    mkdirSync(join(folder, 'cutpoints'));
    writeFileSync(join(folder, 'cutpoints', '1.0.0.json'), '{}');
    expect(faultOf(folder)).toContain('norms/cutpoints/1.0.0.json is in none of the folders tables');
  });
});
