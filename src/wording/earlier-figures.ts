/** What a hand gave in an earlier session, in the unit charted then: the findings hold it in the unit charted now. */
import type { ForceText, Interpretation } from '../interpret/finding.ts';
import { type InterpretInput, interpret, type SessionInput } from '../interpret/interpret.ts';
import { type Hand, type HandFigure, scaleOf } from '../interpret/measurement.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { stopOf } from './session-statements.ts';

/**
 * The mean of a hand as charted in the last earlier session that has one, or in the one of the moment `since`;
 * undefined where there is none, and where every session was charted in one unit.
 */
export type Earlier = (hand: Hand | null, since?: string) => ForceText | undefined;

export function earlierFigures(
  { input, panel }: { readonly input: InterpretInput; readonly panel: AppliedPanel },
  { effective }: Pick<Interpretation, 'effective'>,
): Earlier {
  const index = input.sessions.findLastIndex((each) => !each.prior && momentOf(each) === effective);
  const upTo = input.sessions.slice(0, index + 1);
  const units = new Set(upTo.flatMap(figuresIn).map(scaleOf));
  if (units.size < 2) return () => undefined;
  const sessions = upTo.slice(0, -1).map((each) => ({ ...each, prior: false }));
  const usable = interpret({ ...input, sessions }, panel.panel).filter((each) => !stopOf(each));
  return (hand, since) =>
    usable
      .filter((each) => since === undefined || each.effective === since)
      .flatMap(({ summaries }) => summaries)
      .findLast((summary) => summary.kind === 'mean-per-hand' && summary.hand === hand)?.charted;
}

function figuresIn({ trials, charted = [] }: SessionInput): readonly HandFigure[] {
  return [...trials, ...charted];
}

/** As `interpret` names a session: the moment of its first trial, else of what was charted in its place. */
function momentOf(session: SessionInput): string {
  return figuresIn(session)[0]?.effective ?? session.testedOn;
}
