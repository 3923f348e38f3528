/** Labels beside the ends of lines, moved up and down until none covers another. */

export interface Wanted {
  /** Where the line ends, in the picture. */
  readonly y: number;
}

/**
 * The vertical places of labels, in the order given: as near to where each is wanted as a distance of `gap` between
 * neighbours and the ends `top` and `bottom` allow.
 */
export function spread(
  wanted: readonly Wanted[],
  { gap, top, bottom }: { readonly gap: number; readonly top: number; readonly bottom: number },
): readonly number[] {
  const order = wanted.map(({ y }, index) => ({ y, index })).sort((a, b) => a.y - b.y || a.index - b.index);
  // Groups of labels that touch, each around the mean of what its members want.
  const groups: { sum: number; members: number[] }[] = [];
  for (const { y, index } of order) {
    groups.push({ sum: y, members: [index] });
    for (;;) {
      const [before, last] = groups.slice(-2);
      if (!before || !last || startOf(last, gap, top, bottom) >= endOf(before, gap, top, bottom) + gap) break;
      groups.splice(-2, 2, { sum: before.sum + last.sum, members: [...before.members, ...last.members] });
    }
  }
  const placed: number[] = [];
  for (const group of groups)
    for (const [place, index] of group.members.entries())
      placed[index] = startOf(group, gap, top, bottom) + place * gap;
  return placed;
}

type Group = { readonly sum: number; readonly members: readonly number[] };

function startOf({ sum, members }: Group, gap: number, top: number, bottom: number): number {
  const length = (members.length - 1) * gap;
  const start = sum / members.length - length / 2;
  return Math.max(top, Math.min(start, bottom - length));
}

function endOf(group: Group, gap: number, top: number, bottom: number): number {
  return startOf(group, gap, top, bottom) + (group.members.length - 1) * gap;
}
