/** Released files as lines for a terminal: every figure of every file, beside the file read as plain JSON. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { everyRelease, requireRelease } from '../../src/reference/find-release.ts';
import { loadLibrary } from '../../src/reference/library.ts';
import { releaseLines } from '../../src/terminal/show-release.ts';
import { NORMS } from '../interpret/build.ts';
import { fixedText } from '../interpret/fixed-point.ts';
import type { Json } from '../reference/altered-norms.ts';

const library = loadLibrary(NORMS);
const ALL = everyRelease(library).map((release) => ({
  name: `${release.ref.id} ${release.ref.version}`,
  file: JSON.parse(readFileSync(join(NORMS, release.path.replace('norms/', '')), 'utf8')) as Json,
  digest: release.ref.digest,
  lines: releaseLines(library, release),
}));
const ofKind = (kind: string) => ALL.filter(({ file }) => file.kind === kind);
const named = (all: typeof ALL) => all.map((each) => [each.name, each] as const);
const show = (id: string, version?: string) => releaseLines(library, requireRelease(library, id, version));

/** The rows of the first table after the empty line, each by the titles of its columns. */
function tableOf(lines: readonly string[], rows: number): readonly Readonly<Record<string, string>>[] {
  const start = lines.indexOf('') + 1;
  const head = lines[start] ?? '';
  const titles = [...head.matchAll(/\S+(?: \S+)*/g)];
  return lines
    .slice(start + 1, start + 1 + rows)
    .map((line) =>
      Object.fromEntries(
        titles.map(({ 0: title, index }, column) => [
          title,
          line.slice(index, titles[column + 1]?.index).trim(),
        ]),
      ),
    );
}

const ageText = ({ ageMin, ageMax }: Json) =>
  ageMin === null
    ? 'any'
    : ageMax === null
      ? `${ageMin}+`
      : ageMin === ageMax
        ? `${ageMin}`
        : `${ageMin}-${ageMax}`;

const stratumText = ({ min, max }: Json) =>
  min === null ? `up to ${max}` : max === null ? `${min}+` : `${min}-${max}`;

/** Mean less two SD in hundredths. */
function twoSdBelow({ mean, sd }: Json): string {
  const hundredths = (figure: string) => BigInt(Math.round(Number(figure) * 100));
  return fixedText(hundredths(mean) - 2n * hundredths(sd), 2);
}

describe('every file', () => {
  it.each(named(ALL))('%s says what it is, its digest and every doubt', (_name, { file, digest, lines }) => {
    const standing = lines[1]?.split(', ')[1];
    expect(lines.slice(0, 3)).toEqual([
      file.title,
      `${file.kind} ${file.id} ${file.version}, ${standing}, released ${file.released}`,
      `SHA-256 ${digest}`,
    ]);
    const later = ALL.filter(
      ({ file: { supersedes } }) => supersedes?.id === file.id && supersedes.version === file.version,
    ).map(({ name }) => name);
    const by = [...later, file.supersededBy?.what].filter(Boolean);
    expect(lines.filter((line) => line.startsWith('Superseded by: '))).toEqual(
      by.length > 0 ? [`Superseded by: ${by.join(', ')}`] : [],
    );
    expect(standing).toBe(by.length > 0 ? 'superseded' : file.status);
    expect(lines.filter((line) => line.startsWith('Supersedes: '))).toEqual(
      file.supersedes
        ? [`Supersedes: ${file.supersedes.id} ${file.supersedes.version} (${file.supersedes.reason})`]
        : [],
    );
    expect(lines.filter((line) => line.startsWith('Doubt: '))).toEqual(
      file.doubts.map((doubt: string) => `Doubt: ${doubt}`),
    );
  });
});

describe('a table', () => {
  it.each(named(ofKind('table')))('%s prints every figure of every row', (_name, { file, lines }) => {
    const printed = tableOf(lines, file.rows.length);
    const isRead = file.examples[0].rule.id === 'two-sd-below-mean';
    for (const [index, row] of file.rows.entries()) {
      const line = printed[index] ?? {};
      const hand = row.hand === null ? 'either' : row.hand === 'nondominant' ? 'other' : row.hand;
      expect(line).toMatchObject({ age: ageText(row), sex: row.sex, hand, verified: row.verification });
      expect(line.mean ?? '-').toBe(row.mean ?? '-');
      expect(line.SD ?? '-').toBe(row.sd ?? '-');
      if (!row.sd) expect(line['mean - 1 SD'] ?? '-').toBe(row.oneSdBelow ?? '-');
      expect(line.n ?? '-').toBe(String(row.n ?? '-'));
      expect(line.note ?? '').toBe(row.note ?? '');
      expect(line['height, cm']).toBe(row.stratum && stratumText(row.stratum));
      if (isRead)
        expect(line['mean - 2 SD']).toBe(row.mean === null || row.sd === null ? '-' : twoSdBelow(row));
      const centiles = Object.keys(line).filter((title) => /^P\d+$/.test(title));
      const known = Object.fromEntries(centiles.map((title) => [title.slice(1), line[title]]));
      const expected = Object.fromEntries(
        centiles.map((title) => [title.slice(1), row.percentiles?.[title.slice(1)] ?? '-']),
      );
      expect(known).toEqual(expected);
      expect(Object.keys(row.percentiles ?? {}).every((rank) => centiles.includes(`P${rank}`))).toBe(true);
    }
  });

  it('says where its figures come from, how its people were measured, and how the figures were verified', () => {
    const { file } = ofKind('table').find(({ name }) => name === 'mathiowetz-1985-us-adults 1.1.0') ?? {
      file: {},
    };
    expect(show('mathiowetz-1985-us-adults')).toEqual(
      expect.arrayContaining([
        'Source: Mathiowetz V, Kashman N, Volland G, Weber K, Dowe M, Rogers S. Grip and pinch strength: normative data for adults. Arch Phys Med Rehabil 1985;66(2):69-74. PMID 3970660 (Table 2)',
        `Licence: ${file.licence}`,
        `People: ${file.population}`,
        `Instrument: ${file.instrumentClass}; posture: ${file.protocol.posture}`,
        'Measured with: posture seated, arm elbow-90-unsupported, handle 2, instrument hydraulic',
        `Summary: mean-per-hand (${file.summary.note}); unit lb`,
        `Verified: ${file.verification.level}. ${file.verification.comparedWith}`,
        'Its worked examples read it by two-sd-below-mean 1.0.0: Two standard deviations below the mean, inclusive.',
      ]),
    );
  });

  it('names the interpolation between exact ages, the measure of a ratio, and rows that drive nothing by default', () => {
    expect(show('dodds-2014-great-britain')).toEqual(
      expect.arrayContaining([
        'Each row is for one exact age. Figures between two of them are interpolated, in a straight line.',
        'Columns P10 to P90 are centiles.',
        '21 of 36 rows are not verified well enough: they drive a result only where a panel takes them on purpose.',
      ]),
    );
    const ratio = show('nhanes-2011-2014-best-over-height-squared');
    expect(ratio.find((line) => line.startsWith('Summary: '))).toMatch(
      /; unit kg, divided by height in m squared$/,
    );
    expect(ratio.join('\n')).not.toMatch(/interpolated|not verified well enough/);
  });
});

describe('a set of cut-points', () => {
  it.each(named(ofKind('cut-points')))(
    '%s prints every limit with its strictness, its meaning, and what else it asks for',
    (_name, { file, lines }) => {
      const unit = file.quantity === 'force-over-bmi' ? 'kg/(kg/m2)' : file.unit;
      const printed = tableOf(lines, file.rows.length);
      for (const [index, row] of file.rows.entries()) {
        const line = printed[index] ?? {};
        expect(line).toMatchObject({ age: ageText(row), sex: row.sex, verified: row.verification });
        expect(line['reduced is']).toBe(row.value === null ? '-' : `${row.operator} ${row.value} ${unit}`);
        expect(line['BMI, kg/m2']).toBe(row.stratum && stratumText(row.stratum));
        expect(line.hand).toBe(row.hand);
        expect(line['intermediate below']).toBe(row.intermediateBelow && `${row.intermediateBelow} ${unit}`);
        expect(line.note ?? '').toBe(row.note ?? '');
      }
      expect(lines).toContain(`Reduced: ${file.meaning.reduced}`);
      expect(lines).toContain(`Not reduced: ${file.meaning.notReduced}`);
      expect(lines.filter((line) => line.startsWith('Also asked: '))).toEqual(
        file.companions.map(
          ({ name, rule, use, figure }: Json) =>
            `Also asked: ${name}, ${rule} (${use})${figure ? ', read from the record' : ''}`,
        ),
      );
    },
  );

  it('says from when it calls the condition chronic, and its remark', () => {
    expect(show('ewgsop2-2019')).toContain('Chronic: from 6 months');
    expect(show('fnih-2014', '1.0.0')).toContain(
      'Remark: 26 to 32 kg in men and 16 to 20 kg in women was called intermediate',
    );
  });
});

describe('a rule', () => {
  it.each(named(ofKind('rule')))(
    '%s says why, what it rests on, and every figure',
    (_name, { file, lines }) => {
      expect(lines).toContain(`Why: ${file.why}`);
      expect(lines).toContain(`Basis: ${file.basis}`);
      expect(lines.filter((line) => line.startsWith('Source: '))).toEqual(
        file.citations.map((citation: string) => `Source: ${citation}`),
      );
      const said = lines.slice(lines.indexOf('') + 1, lines.indexOf(`Why: ${file.why}`)).join('\n');
      const figures = JSON.stringify(file.parameters, (key, value) =>
        key === 'source' || key === 'population' || key === 'effect' ? undefined : value,
      ).match(/(?<![\w-])\d+(?:\.\d+)?(?![\w-])/g);
      for (const figure of figures ?? []) expect(said).toContain(figure);
    },
  );

  it.each([
    ['two-sd-below-mean', 'Reduced: at or below the mean less 2 SD'],
    ['one-sd-below-mean', 'Reduced: below the mean less 1 SD'],
    ['below-10th-centile', 'Reduced: below centile 10'],
    ['three-trials-per-hand', 'Trials asked of each hand: 3'],
    ['reading-bounds', 'Refused: a reading above 100 kg'],
    ['next-measurement', 'Suggested: 14 days after the test'],
  ])('%s is one line', (id, line) => {
    expect(show(id)).toContain(line);
  });

  it('of change is a table of yardsticks, each with its strictness', () => {
    const rows = tableOf(show('change-limits'), 5);
    expect(rows.map(({ yardstick, hand, age, change }) => [yardstick, hand, age, change])).toEqual([
      ['mdc95-dominant', 'dominant', '65+', '> 3.5 kg'],
      ['mdc95-nondominant', 'other', '65+', '> 2.9 kg'],
      ['mdc95-unknown', 'unknown', '65+', '> 3.5 kg'],
      ['healthy-20-percent', 'any', '18-64', '> 20 %'],
      ['smallest-important', 'any', '18+', '>= 5.0 kg'],
    ]);
  });

  it('of centiles names its ranges, of the protocol its effects', () => {
    expect(show('quintile-bands').slice(-8)).toEqual(
      expect.arrayContaining([
        expect.stringMatching(/^somewhat low +20 +40$/),
        expect.stringMatching(/^high +80$/),
      ]),
    );
    expect(tableOf(show('protocol-effects'), 5).map(({ part, between }) => [part, between])).toEqual([
      ['posture', 'standing and seated'],
      ['posture', 'recumbent and seated'],
      ['arm', 'elbow-supported and elbow-90-unsupported'],
      ['handle', '2 and 3'],
      ['instrument', 'any and any'],
    ]);
  });
});

describe('a panel', () => {
  it.each(named(ofKind('panel')))(
    '%s lists its sets in order with what it decides, and its rules',
    (_name, { file, lines }) => {
      const body = lines.slice(lines.indexOf('') + 1);
      expect(body[0]).toBe(`For: ${file.audience}`);
      const sets = body.filter((line) => /^\d+\. /.test(line));
      expect(sets).toEqual(
        file.entries.map(
          ({ set, rule }: Json, index: number) =>
            `${index + 1}. ${set.kind} ${set.id} ${set.version}${rule ? `, read by ${rule.id} ${rule.version}` : ''}`,
        ),
      );
      for (const { ageMin, summaryWhenUnstated, acceptUnproven } of file.entries) {
        if (ageMin) expect(body).toContain(`   from age ${ageMin.years}: ${ageMin.reason}`);
        if (summaryWhenUnstated)
          expect(body).toContain(`   summary ${summaryWhenUnstated.kind}: ${summaryWhenUnstated.reason}`);
        if (acceptUnproven)
          expect(body).toContain(`   takes figures not verified well enough: ${acceptUnproven.reason}`);
      }
      const rules = body.slice(body.indexOf('') + 2).map((line) => line.split(/ {2,}/).slice(1).join(' '));
      expect(rules).toEqual(Object.values<Json>(file.rules).map(({ id, version }) => `${id} ${version}`));
    },
  );
});
