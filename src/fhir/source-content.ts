/** What an Observation says, as far as it is read: to tell whether it says the same as before. */
import type { HandFigure, Measure } from '../interpret/measurement.ts';
import type { Handedness } from './read-measure.ts';

/** All of a figure but the version of its Observation, and whether it is verified yet. */
export function figureContent({ reference, preliminary: _unverified, ...figure }: HandFigure): string {
  const [, component = ''] = reference.split('#');
  return JSON.stringify([component, Object.entries(figure).sort(([a], [b]) => (a < b ? -1 : 1))]);
}

export function measureContent(measure: Measure | Handedness): string {
  const { reference: _where, ...said } = measure;
  return JSON.stringify(Object.entries(said).sort(([a], [b]) => (a < b ? -1 : 1)));
}
