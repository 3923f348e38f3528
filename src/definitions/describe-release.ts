/** What a Library says of a released file in words, each from the file itself. */
import { figureUnit } from '../interpret/figure.ts';
import type { AnyRelease } from '../reference/find-release.ts';
import type { RuleFile } from '../reference/rule-forms.ts';
import type { CutPointsFile, PanelFile, TableFile } from '../reference/schema.ts';
import { SUMMARY_WORDS } from '../wording/statements.ts';

export interface ReleaseWords {
  /** One paragraph each. */
  readonly description: readonly string[];
  readonly purpose: string;
  readonly usage: string | null;
}

export function describeRelease({ file }: AnyRelease): ReleaseWords {
  if (file.kind === 'panel') return panelWords(file);
  if (file.kind === 'rule') return ruleWords(file);
  return {
    description: [
      `People: ${file.population}.`,
      `Measured: ${measuredText(file)}.`,
      `Verified: ${file.verification.level}. ${file.verification.comparedWith}`,
      ...doubtLines(file),
    ],
    ...(file.kind === 'table' ? tableUse(file) : cutPointsUse(file)),
  };
}

/** How the people of a set were measured and the trials summarised; also the method of its ObservationDefinition. */
export function measuredText({ summary, protocol, instrumentClass }: TableFile | CutPointsFile): string {
  const { posture, handlePosition, trialsPerHand, rest } = protocol;
  return [
    `summary ${summary.kind ? SUMMARY_WORDS[summary.kind] : 'not stated'} (${summary.note})`,
    `trials per hand ${trialsPerHand ?? 'not stated'}`,
    `posture ${posture ?? 'not stated'}`,
    `handle ${handlePosition ?? 'not stated'}`,
    `instrument ${instrumentClass ?? 'not stated'}`,
    ...(rest ? [`rest ${rest}`] : []),
  ].join('; ');
}

function tableUse(file: TableFile): Pick<ReleaseWords, 'purpose' | 'usage'> {
  const ages =
    file.ages === 'exact'
      ? ' Each row is for one exact age; figures between two of them are interpolated in a straight line.'
      : '';
  return {
    purpose: 'To read a grip strength against people of the same sex and age.',
    usage: `Figures are in ${figureUnit(file)}. Read by the rule that a panel names.${ages}`,
  };
}

function cutPointsUse(file: CutPointsFile): Pick<ReleaseWords, 'purpose' | 'usage'> {
  const { meaning, companions } = file;
  const asked = companions.map(({ name, rule, use }) => `Also asked: ${name}, ${rule} (${use}).`);
  return {
    purpose: 'To say whether a grip strength is reduced by this consensus.',
    usage: [
      `Limits are in ${figureUnit(file)}.`,
      `Reduced: ${meaning.reduced}.`,
      `Not reduced: ${meaning.notReduced}.`,
      ...(meaning.remark ? [meaning.remark] : []),
      ...asked,
    ].join(' '),
  };
}

function ruleWords(file: RuleFile): ReleaseWords {
  return {
    description: [`Form: ${file.form}; basis: ${file.basis}.`, ...doubtLines(file)],
    purpose: file.why,
    usage: null,
  };
}

function panelWords(file: PanelFile): ReleaseWords {
  const reasons = file.entries.flatMap(({ set, ageMin, summaryWhenUnstated, acceptUnproven }) => [
    ...(ageMin ? [`${set.id} from age ${ageMin.years}: ${ageMin.reason}`] : []),
    ...(summaryWhenUnstated ? [`${set.id}: ${summaryWhenUnstated.reason}`] : []),
    ...(acceptUnproven ? [`${set.id}, taken though not fully verified: ${acceptUnproven.reason}`] : []),
  ]);
  return {
    description: [
      'Reference sets, in the order in which they are read, and the rules that they are read by.',
      ...reasons,
      ...doubtLines(file),
    ],
    purpose: `For: ${file.audience}`,
    usage: null,
  };
}

function doubtLines({ doubts }: { readonly doubts: readonly string[] }): readonly string[] {
  return doubts.map((doubt) => `Doubt: ${doubt}`);
}
