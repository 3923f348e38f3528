/** From a released set of cut-points to rows with exact limits. */
import { exact } from '../interpret/exact.ts';
import type { SummaryKind } from '../interpret/measurement.ts';
import type { LimitRow, ReadySet } from '../interpret/reference-set.ts';
import { checkRows } from './check-rows.ts';
import { NormsFault, type Release } from './read-norms.ts';
import { provenState } from './ready-table.ts';
import type { CutPointsFile } from './schema.ts';

/**
 * @param ageMin lowest age at which the panel applies the set
 * @param summary used where the set does not state one
 */
export function readyCutPoints(
  set: Release<CutPointsFile>,
  ageMin: number,
  summary: SummaryKind | undefined,
): ReadySet {
  const { file, path } = set;
  const kind = file.summary.kind ?? summary;
  if (!kind) throw new NormsFault(`${path} states no summary: the panel must give summaryWhenUnstated`);
  const rows = file.rows
    .filter((row) => row.ageMax === null || row.ageMax >= ageMin)
    .map(
      (row): LimitRow => ({
        sex: row.sex,
        hand: row.hand ?? null,
        ageMin: Math.max(row.ageMin ?? 0, ageMin),
        ageMax: row.ageMax,
        stratum: row.stratum,
        limit: row.value === null ? null : exact(row.value),
        intermediateBelow: row.intermediateBelow === undefined ? undefined : exact(row.intermediateBelow),
        operator: row.operator,
        norm: null,
        verification: row.verification,
        note: row.note,
        ...provenState(row.verification),
      }),
    );
  const companions = file.companions.flatMap(({ name, figure }) => (figure ? [{ name, ...figure }] : []));
  return {
    ref: set.ref,
    rule: null,
    unit: file.unit,
    quantity: file.quantity,
    summary: kind,
    rows: checkRows(path, rows, kind, file.handConvention),
    companions: companions.length > 0 ? companions : undefined,
    chronicFromMonths: file.chronicFromMonths,
    built: file.built,
  };
}
