/**
 * Reasons to override a card, as Codings: eight, because a longer list is not read. Ours come first, being about the
 * measurement; then those of the published list that hold for grip, in its own words.
 */
import {
  GRIP_OVERRIDES,
  NON_ADHERENCE_DISPLAYS,
  NON_ADHERENCE_REASONS,
  OVERRIDE_DISPLAYS,
} from '../fhir/codes.ts';

/** CDS Hooks 2.0.1: each with its display. */
export interface OverrideReason {
  readonly system: string;
  readonly code: string;
  readonly display: string;
}

/** For every card about a measurement: the ValueSet grip-overrides. */
export function overrideReasons(): readonly OverrideReason[] {
  return [
    ...reasonsOf(GRIP_OVERRIDES, OVERRIDE_DISPLAYS),
    ...reasonsOf(NON_ADHERENCE_REASONS, NON_ADHERENCE_DISPLAYS),
  ];
}

function reasonsOf(system: string, displays: Readonly<Record<string, string>>): readonly OverrideReason[] {
  return Object.entries(displays).map(([code, display]) => ({ system, code, display }));
}

/** Nothing was measured yet when a card speaks of readiness: reasons about a measurement have no place on it. */
const ABOUT_A_MEASUREMENT: ReadonlySet<string> = new Set([
  'measurement-not-valid',
  'arm-not-representative',
  'set-not-suitable',
]);

export function readinessOverrideReasons(): readonly OverrideReason[] {
  return overrideReasons().filter(({ code }) => !ABOUT_A_MEASUREMENT.has(code));
}

/** Words of a reason that a client gave back without them (STANDARDS F5); undefined for a reason that is not ours to word. */
export function findReasonDisplay(reason: Pick<OverrideReason, 'system' | 'code'>): string | undefined {
  return overrideReasons().find(({ system, code }) => system === reason.system && code === reason.code)
    ?.display;
}
