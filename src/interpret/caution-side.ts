/** Which arm a record is about. A side is taken from what says it, and from nothing else. */
import { type Dominance, HANDS, type Hand } from './measurement.ts';
import type { CautionCode, CautionRead, ReadinessFinding } from './testing-caution.ts';

export interface CautionSide {
  /** Both, or none. */
  readonly hands: readonly Hand[];
  readonly noSide?: ReadinessFinding['noSide'];
  readonly byHandedness?: true;
  readonly handednessDiffers?: true;
}

/**
 * The side of the code and that of the body site must agree; a side by dominance needs the writing hand.
 * @param codes of the rule that the record has
 */
export function sideOf(
  read: CautionRead,
  codes: readonly CautionCode[],
  dominant: Dominance | undefined,
): CautionSide {
  const differs = codes.some((code) => contradictsHandedness(code, dominant));
  const mark = differs ? ({ handednessDiffers: true } as const) : {};
  const named = codes.flatMap(({ hand }) => (hand ? [hand] : []));
  const isLesion = named.length === 0 && codes.length > 0 && codes.every(({ siteOfLesion }) => siteOfLesion);
  if (isLesion && read.site) return { hands: [], noSide: 'lesion' };
  const said = [...named, ...(read.site && !isLesion ? [read.site] : [])];
  if (said.length > 0) {
    const hands = HANDS.filter((hand) => said.every((each) => each === hand || each === 'both'));
    return hands.length > 0 ? { hands, ...mark } : { hands, noSide: 'contradiction', ...mark };
  }
  return sideByDominance(codes, dominant) ?? { hands: [], noSide: read.siteUnread ? 'unread' : 'none' };
}

function sideByDominance(
  codes: readonly CautionCode[],
  dominant: Dominance | undefined,
): CautionSide | undefined {
  const [side, ...others] = new Set(codes.flatMap(({ dominance }) => (dominance ? [dominance] : [])));
  if (!side) return undefined;
  if (others.length > 0) return { hands: [], noSide: 'contradiction' };
  if (dominant !== 'right' && dominant !== 'left') return { hands: [], noSide: 'handedness' };
  const hands = HANDS.filter((hand) => (hand === dominant) === (side === 'dominant'));
  return { hands, byHandedness: true };
}

/** ICD-10-CM names side and dominance together; the record may say that another hand writes. */
function contradictsHandedness({ hand, dominance }: CautionCode, dominant: Dominance | undefined): boolean {
  if (!dominance || (hand !== 'right' && hand !== 'left')) return false;
  if (dominant !== 'right' && dominant !== 'left') return false;
  return (hand === dominant) !== (dominance === 'dominant');
}
