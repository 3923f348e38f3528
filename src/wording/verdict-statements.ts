/** What one set says, in sentences: the verdict, what else it asks for, how long, and how it was built. */
import type { Course, Mismatch, Verdict } from '../interpret/finding.ts';
import { MEASURE_UNITS, type ProtocolPart } from '../interpret/measurement.ts';
import type { SetDescription } from '../reference/describe.ts';
import type { AppliedPanel } from '../reference/library.ts';
import {
  capital,
  comparedText,
  dateText,
  divisorText,
  limitText,
  outcomeText,
  provisionalText,
  rowText,
  standingText,
  summaryText,
} from './statements.ts';

/** One set for one hand as a full sentence, for the narrative of its Observation. */
export function verdictSentence(verdict: Verdict, panel: AppliedPanel): string {
  const about = panel.describe(verdict.set);
  const standing = standingText(verdict);
  const over = divisorText(verdict);
  const meaning = about.meaning?.[verdict.outcome === 'reduced' ? 'reduced' : 'notReduced'];
  const read = `${summaryText(verdict.summary, verdict.hand)}${over ? ` ${over}` : ''} ${comparedText(verdict)}`;
  return [
    `${about.shortTitle}${supersededText(about)} (${rowText(verdict)}): ${read};`,
    `reduced is ${limitText(verdict.limit)}: ${outcomeText(verdict)}${standing ? ` (${standing})` : ''}.`,
    meaning ? `By this set: ${meaning}.` : '',
    ...courseSentences(verdict),
    provisionalText(verdict.provisional),
  ]
    .filter(Boolean)
    .join(' ');
}

/** e.g. ` (superseded by EWGSOP2 2019)`; empty for a set in force. */
export function supersededText({ superseded, supersededBy }: SetDescription): string {
  if (!superseded) return '';
  return supersededBy ? ` (superseded by ${supersededBy})` : ' (superseded)';
}

/** What the set asks for besides grip: the record's answer, what it does not hold, and what is not read at all. */
export function companionSentences(verdict: Verdict, about: SetDescription): readonly string[] {
  const answers = about.companions.flatMap(({ name, rule, use }) => {
    const found = verdict.companions?.find((result) => result.name === name);
    if (!found) return [];
    const { value, kind, measuredOn, met } = found;
    const figure = `${value} ${MEASURE_UNITS[kind]} on ${dateText(measuredOn)}`;
    return [`${capital(name)} ${figure}: ${met ? '' : 'not '}${rule} (${use}).`];
  });
  const isAnswered = (name: string) => verdict.companions?.some((result) => result.name === name);
  const open = about.companions.filter(({ name }) => !isAnswered(name));
  return [
    ...answers,
    ...listed(
      'Not in the record near the test',
      open.filter(({ isRead }) => isRead),
    ),
    ...listed(
      'Not evaluated here',
      open.filter(({ isRead }) => !isRead),
    ),
  ];
}

/** The same in short, for a card: figures that are there, and the names of those that are not. */
export function companionsInShort(verdict: Verdict, about: SetDescription): readonly string[] {
  const isAnswered = (name: string) => verdict.companions?.some((result) => result.name === name);
  const open = about.companions.filter(({ name }) => !isAnswered(name));
  const answers = companionSentences(verdict, {
    ...about,
    companions: about.companions.filter(({ name }) => isAnswered(name)),
  });
  return [
    ...answers,
    ...(open.length > 0 ? [`Not known here: ${open.map(openInShort).join(', ')}.`] : []),
    ...(hasBothParts(verdict, about) ? [BOTH_PARTS] : []),
  ];
}

/** What each is for: what is missing matters by that. */
function openInShort({ name, use }: SetDescription['companions'][number]): string {
  // What a definition requires stands in its meaning already.
  if (use.startsWith('required')) return name;
  return `${name} (${use === 'alternative test of low strength' ? 'another test of strength' : use})`;
}

const BOTH_PARTS = 'Both parts of this definition are in the record; the clinician judges.';

/** Grip is reduced, and the one other part that the set requires beside it is on its side of the limit. */
export function hasBothParts(verdict: Verdict, { companions }: SetDescription): boolean {
  const required = companions.filter(({ use }) => use.startsWith('required'));
  const isMet = ({ name }: { readonly name: string }) =>
    verdict.companions?.some((found) => found.name === name && found.met) === true;
  return verdict.outcome === 'reduced' && required.length > 0 && required.every(isMet);
}

/** What reduced means by the set, to stand after its name. A cut-point is no diagnosis of weakness. */
export function meaningInShort({ meaning }: SetDescription): string {
  if (!meaning) return '';
  return meaning.reduced === "weakness by this project's cut-point"
    ? 'below its cut-point for weakness'
    : meaning.reduced;
}

/** For a card: since when, without months that were not seen in print. */
export function courseInShort({ course }: Verdict): string {
  if (course?.kind === 'chronic')
    return `Reduced by it at each session read since ${dateText(course.reducedSince)}.`;
  return course?.kind === 'acute' && course.lastNotReduced
    ? `Not reduced by it on ${dateText(course.lastNotReduced)}.`
    : '';
}

function listed(title: string, companions: SetDescription['companions']): readonly string[] {
  const said = companions.map(({ name, rule, use }) => `${name}, ${rule} (${use})`);
  return said.length > 0 ? [`${title}: ${said.join('; ')}.`] : [];
}

/** How long the person has been reduced by this set; at most one sentence. */
export function courseSentences({ course }: Verdict): readonly string[] {
  return course ? [courseSentence(course)] : [];
}

function courseSentence({ kind, reducedSince, lastNotReduced, chronicFromMonths }: Course): string {
  // Acute and chronic are the consensus's own words; how many months part them was not seen in print.
  const limit = `${chronicFromMonths} months`;
  const unverified = '(the months are from memory, unverified)';
  if (kind === 'chronic')
    return `Reduced by it at each session read since ${dateText(reducedSince)}, ${limit} or more: chronic in its words ${unverified}, if confirmed.`;
  if (kind === 'acute' && lastNotReduced)
    return `Not reduced by it on ${dateText(lastNotReduced)}, less than ${limit} ago: acute in its words ${unverified}, if confirmed.`;
  return `Whether it has been reduced for ${limit}, acute or chronic in its words ${unverified}, is not shown by the sessions sent.`;
}

const PART_WORDS: Readonly<Record<ProtocolPart, string>> = {
  posture: 'posture',
  arm: 'arm',
  handle: 'handle position',
  instrument: 'instrument',
};

/** How the measurement differs from how the set was built, with the size where one is published. */
export function mismatchSentence(mismatch: Mismatch, panel: AppliedPanel): string {
  const { part, charted, built } = mismatch;
  const effect = panel.effect(mismatch);
  const size = effect ? `${effect.effect} (${effect.source})` : 'no published size is known here';
  return `${PART_WORDS[part]} ${protocolWord(charted)} where the set had ${protocolWord(built)}: ${size}. Nothing is corrected for it.`;
}

/** `elbow-90-unsupported` -> `elbow 90 unsupported`. */
export function protocolWord(code: string): string {
  return code.replaceAll('-', ' ');
}

export function partWord(part: ProtocolPart): string {
  return PART_WORDS[part];
}
