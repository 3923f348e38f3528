/** Earlier sessions of the same person, as later ones look back on them. */
import type { Hand, Subject } from './measurement.ts';
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

/** The mean of one hand in one session. */
export interface HandMean {
  readonly testedOn: string;
  readonly effective: string;
  readonly mean: ExactSummary;
}

export function meanOfHand(summaries: readonly ExactSummary[], hand: Hand): ExactSummary | undefined {
  return summaries.find((summary) => summary.kind === 'mean-per-hand' && summary.hand === hand);
}

/** Every earlier mean of a hand, oldest first. */
export function meansOf(history: readonly EarlierSession[], hand: Hand): readonly HandMean[] {
  return history.flatMap(({ testedOn, effective, summaries }) => {
    const mean = meanOfHand(summaries, hand);
    return mean ? [{ testedOn, effective, mean }] : [];
  });
}
