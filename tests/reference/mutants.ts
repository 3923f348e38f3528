/** What a cell of a released row might be by mistake. */
import type { Json } from './outside.ts';

/** One changed cell: which, and the row with it. */
export interface Mutant {
  readonly cell: string;
  readonly what: string;
  readonly row: Json;
}

/** The figure with one digit changed, for each digit. */
export function digitsChanged(figure: string): readonly string[] {
  return [...figure].flatMap((digit, index) =>
    digit === '.' ? [] : [figure.slice(0, index) + ((Number(digit) + 1) % 10) + figure.slice(index + 1)],
  );
}

const OTHERS: Readonly<Record<string, readonly Json[]>> = {
  female: ['male'],
  male: ['female'],
  right: ['left', null],
  left: ['right', null],
  dominant: ['nondominant', null],
  nondominant: ['dominant', null],
  '<': ['<='],
  '<=': ['<'],
  bmi: ['height'],
  height: ['bmi'],
  'two-sources': ['one-source'],
  'one-source': ['two-sources'],
  'one-source-checked': ['one-source'],
  'derived-from-microdata': ['from-memory'],
  'primary-seen': ['secondary-seen'],
  'secondary-seen': ['from-memory'],
  'from-memory': ['primary-seen'],
};

export function changesOf(cell: string, value: Json): readonly Json[] {
  if (cell === 'ageMin' || cell === 'ageMax')
    return value === null ? [99, 49] : [value + 1, value - 1, cell === 'ageMax' ? null : value + 10];
  if (cell === 'hand' && value === null) return ['right', 'dominant'];
  if (cell === 'n') return value === null ? [100] : [value + 1, null];
  if (value === null) return ['10'];
  if (cell === 'min' || cell === 'max') return [...digitsChanged(value), null];
  if (cell === 'oneSdBelow' || cell === 'intermediateBelow') return [...digitsChanged(value), undefined];
  if (cell === 'digits') return [value + 1];
  return OTHERS[value] ?? [...digitsChanged(value), ...(cell === 'mean' || cell === 'value' ? [null] : [])];
}

/** Words that no result depends on. */
const NO_FIGURE = new Set(['note']);

/** A row with each of its cells changed in turn, those of percentiles and stratum among them. */
export function mutantsOf(row: Json, where: string): readonly Mutant[] {
  const { percentiles, stratum, ...plain } = row;
  const mutants = (cells: Json, prefix: string, within: (changed: Json) => Json): readonly Mutant[] =>
    Object.entries<Json>(cells ?? {}).flatMap(([cell, value]) =>
      NO_FIGURE.has(cell)
        ? []
        : changesOf(cell, value).map((changed) => ({
            cell: `${prefix}${cell}`,
            what: `${where} ${prefix}${cell} ${value} -> ${changed}`,
            row: within({ ...cells, [cell]: changed }),
          })),
    );
  return [
    ...mutants(plain, '', (cells) => ({ ...row, ...cells })),
    ...mutants(percentiles, 'percentile ', (cells) => ({ ...row, percentiles: cells })),
    ...mutants(stratum, 'stratum ', (cells) => ({ ...row, stratum: cells })),
    ...withAndWithoutPercentile(row, where),
    ...withIntermediate(row, where),
  ];
}

/** One percentile missing, and one too many. */
function withAndWithoutPercentile(row: Json, where: string): readonly Mutant[] {
  if (!('mean' in row)) return [];
  const { percentiles = {} } = row;
  const [rank] = Object.keys(percentiles);
  const more = { cell: 'percentiles', what: `${where} with a percentile 3`, row: withThird(row) };
  if (rank === undefined) return [more];
  const { [rank]: _, ...fewer } = percentiles;
  return [
    more,
    {
      cell: 'percentiles',
      what: `${where} without percentile ${rank}`,
      row: { ...row, percentiles: fewer },
    },
  ];
}

/** A band called intermediate where the row has none. */
function withIntermediate(row: Json, where: string): readonly Mutant[] {
  if (!('operator' in row) || 'intermediateBelow' in row) return [];
  const what = `${where} with an intermediate band`;
  return [{ cell: 'intermediateBelow', what, row: { ...row, intermediateBelow: '99' } }];
}

const withThird = (row: Json) => ({ ...row, percentiles: { ...row.percentiles, 3: '5.0' } });
