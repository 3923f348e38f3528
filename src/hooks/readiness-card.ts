/** An assessment -> at most one card: a warning, an information, or silence. */
import type { Assessment } from '../assessment.ts';
import { uuidFor } from '../derived-id.ts';
import type { Card } from './cards.ts';
import { readinessOverrideReasons } from './override-reasons.ts';
import { readinessDetail } from './readiness-detail.ts';
import { dueSummary, warningSummary } from './readiness-summary.ts';
import { againstNow, isBelowSets, warnsUnasked } from './readiness-weight.ts';

/**
 * A warning where something speaks against an arm or a test now, whether or not a test is due: somebody may test all the
 * same. Where none does, an information when a test is due, or nobody can tell; else nothing, since a chart is opened many
 * times a day. Of a child whom no set covers only what speaks against a test is said.
 */
export function readinessCard(assessment: Assessment): Card | undefined {
  const { readiness, deceased, input } = assessment;
  const isAgainst = againstNow(assessment).length > 0;
  const mayBeDue = (readiness.isDue || input.sessions === null) && (isAgainst || !isBelowSets(assessment));
  if (deceased || !(mayBeDue || warnsUnasked(assessment))) return undefined;
  const { engine, rule, id } = assessment;
  return {
    uuid: uuidFor(id, 'card'),
    summary: isAgainst ? warningSummary(assessment) : dueSummary(assessment),
    indicator: isAgainst ? 'warning' : 'info',
    detail: readinessDetail(assessment),
    source: {
      label: `${engine.name} ${engine.version}, rule ${rule.ref.id} ${rule.ref.version} (sha256 ${rule.ref.digest.slice(0, 12)})`,
    },
    overrideReasons: readinessOverrideReasons(),
  };
}
