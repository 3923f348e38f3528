/** The survey's own released tables held against the people they were made of. */
import type { ReferenceLibrary } from '../../src/reference/library.ts';
import type { SurveyPerson } from './microdata.ts';
import { SURVEY_VARIANTS, type SurveyColumn } from './survey-table.ts';
import { isIn } from './weighted.ts';

/** One row of one table. */
export interface OwnRow {
  readonly table: string;
  readonly row: string;
  readonly people: number;
  /** Weighted share at or below the mean less two SD. */
  readonly belowTwoSd: number;
  /** Weighted share below the 10th centile. */
  readonly belowTenth: number;
  /** Largest weighted share of a single figure: half of it is how far a share can be from 10%. */
  readonly largestFigure: number;
}

/** Comparisons of floats: a figure this near to a limit is at it. */
const NEAR = 1e-9;

/** Rows for adults, of every survey table in its newest version. */
export function ownRows(people: readonly SurveyPerson[], library: ReferenceLibrary): readonly OwnRow[] {
  return Object.entries(SURVEY_VARIANTS).flatMap(([id, columns]) => {
    const rows = library.releases.tables.findLast(({ ref }) => ref.id === id)?.file.rows ?? [];
    return rows
      .filter(({ ageMin }) => ageMin >= 20)
      .flatMap((row) => {
        const column = columns.find(({ hand }) => hand === row.hand);
        return column ? [ownRow(people, id, column, row)] : [];
      });
  });
}

type Row = ReferenceLibrary['releases']['tables'][number]['file']['rows'][number];

function ownRow(people: readonly SurveyPerson[], table: string, column: SurveyColumn, row: Row): OwnRow {
  const points = people
    .filter((person) => isIn(person, row.sex, row.ageMin, row.ageMax ?? 200))
    .flatMap((person) => {
      const figure = column.value(person);
      return figure === null ? [] : [{ figure, weight: person.weight }];
    });
  const total = points.reduce((sum, { weight }) => sum + weight, 0);
  const share = (holds: (figure: number) => boolean) =>
    points.filter(({ figure }) => holds(figure)).reduce((sum, { weight }) => sum + weight, 0) / total;
  const weights = new Map<number, number>();
  for (const { figure, weight } of points) weights.set(figure, (weights.get(figure) ?? 0) + weight);
  const limit = Number(row.mean) - 2 * Number(row.sd);
  const tenth = Number(row.percentiles?.['10']);
  return {
    table,
    row: `${row.sex}${row.hand ? ` ${row.hand}` : ''} from ${row.ageMin}`,
    people: points.length,
    belowTwoSd: share((figure) => figure <= limit + NEAR),
    belowTenth: share((figure) => figure < tenth - NEAR),
    largestFigure: Math.max(...weights.values()) / total,
  };
}
