/**
 * FHIR Observation of grip strength -> the trials of the core, or figures that were charted as already averaged, or
 * refusals naming the element at fault. Its value is one figure; each component with a code of grip strength is another.
 */
import { type Refusal, refuse } from '../interpret/finding.ts';
import type { ChartedSummary, Hand, HandFigure, Trial } from '../interpret/measurement.ts';
import { isChartedUnit } from '../interpret/units.ts';
import type { ObservationComponent, ObservationResource } from './forms.ts';
import type { LocalCodes } from './local-codes.ts';
import {
  type FigureKind,
  type GripMeaning,
  gripMeaning,
  kindOf,
  kindsOfMethod,
  sidesOf,
} from './read-code.ts';
import type { Instruments } from './read-instrument.ts';
import {
  type AsOf,
  checkUsable,
  type Fault,
  hasValue,
  type Moment,
  readMoment,
  readQuantity,
} from './read-observation.ts';
import { readProtocol, trialNumbersOf } from './read-protocol.ts';

/** What an Observation is read with. */
export interface TrialContext {
  readonly asOf: AsOf;
  readonly instruments: Instruments;
  readonly localCodes?: LocalCodes | undefined;
}

/** An Observation in its request, and how the answer points back to it. */
export interface Charted {
  readonly observation: ObservationResource;
  /** FHIRPath in the request. */
  readonly expression: string;
  readonly reference: string;
}

/** A figure and the FHIRPath of what charts it. */
export interface Located {
  readonly figure: Trial | ChartedSummary;
  readonly expression: string;
}

/** Whether something of it is about grip strength: its code, or a component. */
export function isAboutGrip(observation: ObservationResource): boolean {
  return gripMeaning(observation.code, undefined) !== undefined || hasGripComponent(observation);
}

export function hasGripComponent({ component = [] }: ObservationResource): boolean {
  return component.some(({ code }) => gripMeaning(code, undefined) !== undefined);
}

/** Its value first, then its components. */
export function readTrials(charted: Charted, context: TrialContext): readonly (Located | Refusal)[] {
  const { observation } = charted;
  const own = gripMeaning(observation.code, context.localCodes);
  const components = (observation.component ?? []).flatMap((component, index) => {
    const meaning = gripMeaning(component.code, context.localCodes);
    return meaning ? [{ component, index, meaning }] : [];
  });
  const withValue = own !== undefined && hasValue(observation);
  const isOfOthers = components.length > 0 || isMadeOfOthers(observation);
  if (withValue && isOfOthers && !saysKind(own, observation))
    return [refuseFor(charted, undefined)({ code: 'VALUE_AMBIGUOUS', element: 'value' })];
  if (components.length === 0) return [readOwn(charted, own, context)];
  const about = aboutAll(charted, context);
  if ('kind' in about) return [about];
  const read = components.map((each) => readComponent(each, charted, { ...about, own, withValue }));
  return withValue ? [readOwn(charted, own, context), ...read] : read;
}

/** It has members, or is derived from Observations, sent or not: it may be their mean as well as a trial. */
function isMadeOfOthers({ hasMember = [], derivedFrom = [] }: ObservationResource): boolean {
  return hasMember.length > 0 || derivedFrom.some(({ reference = '' }) => !OTHER_SOURCE.test(reference));
}

/** Other types that R4 lets an Observation be derived from: none of them holds a figure of grip strength. */
const OTHER_SOURCE =
  /(?:^|\/)(?:DocumentReference|ImagingStudy|Media|QuestionnaireResponse|MolecularSequence)\//;

/** What the value is; a statistic that is not read says so too, and is refused for it. */
function saysKind({ kinds }: GripMeaning, { method }: ObservationResource): boolean {
  const ofMethod = kindsOfMethod(method);
  return kinds.length > 0 || 'code' in ofMethod || ofMethod.length > 0;
}

/** The figure that is the value of an Observation. */
function readOwn(
  charted: Charted,
  meaning: GripMeaning | undefined,
  context: TrialContext,
): Located | Refusal {
  const { observation, expression, reference } = charted;
  const hand = meaning
    ? handOf([...meaning.hands, ...sidesOf(observation.bodySite)], charted)
    : ({ code: 'CODE_NOT_GRIP', element: 'code' } as const);
  const moment = readMoment(observation, context.asOf);
  const fail = refuseFor(charted, typeof hand === 'string' ? hand : undefined, moment);
  if (typeof hand !== 'string') return fail(hand);
  const ofMethod = kindsOfMethod(observation.method);
  if ('code' in ofMethod) return fail(ofMethod);
  const kind = kindOf(meaning ?? NOTHING, ofMethod, 'code');
  if (typeof kind !== 'string') return fail(kind);
  const unusable = checkUsable(observation);
  if (unusable) return fail(unusable);
  if ('code' in moment) return fail(moment);
  const reading = readReading(observation);
  if ('code' in reading) return fail(reading);
  const done = readProtocol(observation, context.instruments.of(observation, expression, moment.testedOn));
  if ('code' in done) return fail(done);
  const preliminary = observation.status === 'preliminary';
  const figure = { reference, hand, ...reading, ...moment, preliminary, ...done };
  const numbers = [...(meaning?.numbers ?? []), ...trialNumbersOf(observation)];
  return { figure: ofKind(figure, kind, numbers), expression };
}

const NOTHING: GripMeaning = { hands: [], kinds: [], numbers: [] };

/** What the Observation says of all its components. */
interface AboutAll {
  readonly moment: Moment;
  readonly done: Pick<HandFigure, 'protocol' | 'ownBaseline'>;
  readonly ofMethod: readonly FigureKind[];
}

/** One refusal where what is wrong with the Observation concerns every component. */
function aboutAll(charted: Charted, { asOf, instruments }: TrialContext): AboutAll | Refusal {
  const { observation, expression } = charted;
  const moment = readMoment(observation, asOf);
  const fail = refuseFor(charted, undefined, moment);
  const ofMethod = kindsOfMethod(observation.method);
  if ('code' in ofMethod) return fail(ofMethod);
  const unusable = checkUsable(observation);
  if (unusable) return fail(unusable);
  if ('code' in moment) return fail(moment);
  const done = readProtocol(observation, instruments.of(observation, expression, moment.testedOn));
  return 'code' in done ? fail(done) : { moment, done, ofMethod };
}

function readComponent(
  { component, index, meaning }: { component: ObservationComponent; index: number; meaning: GripMeaning },
  charted: Charted,
  about: AboutAll & { readonly own: GripMeaning | undefined; readonly withValue: boolean },
): Located | Refusal {
  const { observation, expression, reference } = charted;
  const { moment, done, own, withValue } = about;
  const element = `component[${index}]`;
  const place = {
    observation,
    expression: `${expression}.${element}`,
    // A reference that begins with # names a place in the request: an Observation without an id.
    reference: reference.startsWith('#') ? `${reference}.${element}` : `${reference}#${element}`,
  };
  const ofParent = [...(own?.hands ?? []), ...sidesOf(observation.bodySite)];
  const hand = handOf([...meaning.hands, ...ofParent], charted, 'code');
  const fail = refuseFor(place, typeof hand === 'string' ? hand : undefined, moment);
  if (typeof hand !== 'string') return fail(hand);
  // What the Observation says of its value it does not say of the components beside the value.
  const inherited = withValue || meaning.kinds.length > 0 ? [] : [...(own?.kinds ?? []), ...about.ofMethod];
  const kind = kindOf(meaning, inherited, 'code');
  if (typeof kind !== 'string') return fail(kind);
  if ((component.modifierExtension ?? []).length > 0)
    return fail({
      code: 'MODIFIER_UNKNOWN',
      element: 'modifierExtension',
      facts: { element: 'a modifierExtension' },
    });
  const reading = readReading(component);
  if ('code' in reading) return fail(reading);
  const preliminary = observation.status === 'preliminary';
  const figure = { reference: place.reference, hand, ...reading, ...moment, preliminary, ...done };
  return { figure: ofKind(figure, kind, meaning.numbers), expression: place.expression };
}

/** A number that is charted twice, or is no number of a trial, counts as not charted. */
function ofKind(figure: HandFigure, kind: FigureKind, numbers: readonly number[]): Trial | ChartedSummary {
  if (kind !== 'trial') return { ...figure, kind };
  const [number, ...others] = new Set(numbers);
  return number !== undefined && number >= 1 && others.length === 0 ? { ...figure, number } : figure;
}

/** @param element at fault where hands contradict each other, when it is not the body site */
function handOf(said: readonly Hand[], { observation }: Charted, element?: string): Hand | Fault {
  const hasSide = sidesOf(observation.bodySite).length > 0;
  const [hand, ...others] = new Set(said);
  if (!hand) return { code: 'SIDE_MISSING', element: element ?? 'bodySite' };
  if (others.length > 0)
    return { code: 'SIDE_CONTRADICTION', element: element ?? (hasSide ? 'bodySite' : 'code') };
  return hand;
}

/** With the day of the test, where it is known: a reader is told when a newer test could not be used. */
function refuseFor(
  { expression, reference }: Charted,
  hand: Hand | undefined,
  moment?: Moment | Fault,
): (fault: Fault) => Refusal {
  const when = moment && !('code' in moment) ? { testedOn: moment.testedOn, testedAt: moment.effective } : {};
  return ({ code, element, facts }) =>
    refuse(code, {
      trial: reference,
      hand: hand ?? null,
      expression: `${expression}.${element}`,
      facts: { ...when, ...facts },
    });
}

/** Unit codes that are repeated in the answer; anything else a client sends is not. */
const KNOWN_MISTAKES: ReadonlySet<string> = new Set(
  'lb lbs LB [lb] pound pounds kgs Kg KG kg_f kilogram kilograms g gf daN kN psi [psi] kPa bar mm[Hg]'.split(
    ' ',
  ),
);

function readReading(
  charted: Pick<ObservationResource, 'valueQuantity' | 'dataAbsentReason'>,
): Pick<Trial, 'reading' | 'unit'> | Fault {
  const quantity = readQuantity(charted);
  if ('element' in quantity) return quantity;
  const { value, unit } = quantity;
  if (isChartedUnit(unit)) return { reading: String(value), unit };
  const facts = KNOWN_MISTAKES.has(unit) ? { unit } : {};
  return { code: 'UNIT_UNKNOWN', element: 'valueQuantity.code', facts };
}
