/** Earlier sessions of the same person, as later ones look back on them. */
import type { Hand, Subject, SummaryKind } from './measurement.ts';
import type { ExactSummary } from './summarise.ts';

/** One session that was interpreted without a stop. */
export interface EarlierSession {
  readonly testedOn: string;
  /** Moment of its first trial, as charted. */
  readonly effective: string;
  readonly subject: Subject;
  readonly summaries: readonly ExactSummary[];
  /** A caution said that the unit may be mistaken. */
  readonly unitDoubtful: boolean;
}

/** A figure of one hand in one session. */
export interface EarlierFigure {
  readonly testedOn: string;
  readonly effective: string;
  readonly summary: ExactSummary;
}

/** Every earlier figure of a hand of one kind, oldest first. */
export function figuresOfHand(
  history: readonly EarlierSession[],
  hand: Hand,
  kind: SummaryKind,
): readonly EarlierFigure[] {
  return history.flatMap(({ testedOn, effective, summaries }) => {
    const summary = summaries.find((own) => own.kind === kind && own.hand === hand);
    return summary ? [{ testedOn, effective, summary }] : [];
  });
}
