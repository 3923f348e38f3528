/** What an Observation says, as far as it is read: to tell whether it says the same as before. */
import type { HandFigure, Measure } from '../interpret/measurement.ts';
import type { Handedness } from './read-measure.ts';

/** All of a figure but the version of its Observation, and whether it is verified yet. */
export function figureContent({ reference, preliminary: _unverified, ...figure }: HandFigure): string {
  const [, component = ''] = reference.split('#');
  return JSON.stringify([component, inOrder(figure)]);
}

export function measureContent({ reference: _where, ...said }: Measure | Handedness): string {
  return JSON.stringify(inOrder(said));
}

/** The same whatever the order of its members, which a record does not keep. */
function inOrder(value: unknown): unknown {
  if (typeof value !== 'object' || value === null) return value;
  const members = Object.entries(value).filter(([, member]) => member !== undefined);
  return members.sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, member]) => [name, inOrder(member)]);
}
