/** The records of a call -> cautions, and what could not be read; a charted line counts by its newest entry only. */
import type { CautionRead, CautionType, UnusableRecord } from '../interpret/testing-caution.ts';
import { GRIP_CAUTIONS } from './caution-codes.ts';
import { type ObservationResource, observationForm } from './forms.ts';
import {
  type CautionContext,
  type CautionResult,
  codesFor,
  mayMean,
  readCaution,
  referenceOf,
  requireOwnRecord,
  siteOf,
  unusable,
} from './read-caution.ts';
import { checkUsable, hasValue, type Moment, minuteOf, readMoment } from './read-observation.ts';
import type { Placed } from './read-request.ts';

export interface ReadCautions {
  readonly cautions: readonly CautionRead[];
  readonly unusable: readonly UnusableRecord[];
}

type Entry = Placed & { readonly resourceType: string };

const CODED_TYPES: readonly CautionType[] = ['Condition', 'Procedure', 'Device'];

/**
 * Records of other types are left aside. Of two copies of a record that differ both are read.
 * @throws RequestError PATIENT_MISMATCH
 */
export function readCautions(entries: readonly Entry[], context: CautionContext): ReadCautions {
  const coded = entries.flatMap((entry) => {
    const type = CODED_TYPES.find((each) => each === entry.resourceType);
    return type ? readCaution(entry, type, context) : [];
  });
  const lines = entries.filter(({ resourceType }) => resourceType === 'Observation');
  const charted = lines.map((entry) => readLine(entry, context));
  const results = [
    ...coded,
    ...charted.flatMap(({ unusable: one }) => one),
    ...newestOf(charted.flatMap(({ charted: one }) => one)),
  ];
  const once = new Map(results.map((result) => [JSON.stringify(result), result]));
  const all = [...once.values()];
  return { cautions: all.filter(isRead), unusable: all.filter((each) => !isRead(each)) as UnusableRecord[] };
}

const isRead = (result: CautionResult): result is CautionRead => 'caution' in result;

/** A charted line, with what tells which entry is the newest. */
interface ChartedLine {
  readonly read: CautionRead;
  readonly minute: number;
  readonly isThere: boolean;
}

interface LineRead {
  readonly charted: readonly ChartedLine[];
  readonly unusable: readonly UnusableRecord[];
}

const NOTHING: LineRead = { charted: [], unusable: [] };

/** An Observation counts only under a code of this service or one that the site maps: what a value means is else not known. */
function readLine(entry: Entry, context: CautionContext): LineRead {
  requireOwnRecord(entry, 'Observation', context.patient);
  const notUsed = (why: UnusableRecord['why']): LineRead => ({
    charted: [],
    unusable: [unusable(entry, 'Observation', why)],
  });
  const read = observationForm.safeParse(entry.resource);
  if (!read.success) return mayMean(entry, 'Observation', context) ? notUsed('malformed') : NOTHING;
  const observation = read.data;
  const own = mappedCodesOf(observation, context);
  const isTakenBack = observation.status === 'entered-in-error' || observation.status === 'cancelled';
  if (own.length === 0 || isTakenBack || observation.dataAbsentReason) return NOTHING;
  const fault = checkUsable(observation);
  if (fault) return notUsed(WHY[fault.code] ?? 'malformed');
  const moment = readMoment(observation, context.asOf);
  if ('code' in moment) return notUsed(WHY[moment.code] ?? 'malformed');
  return { charted: chartedLines(entry, observation, own, { ...context, moment }), unusable: [] };
}

type MappedCodes = readonly Pick<CautionRead, 'caution' | 'codes'>[];

function mappedCodesOf({ code }: ObservationResource, context: CautionContext): MappedCodes {
  return [...codesFor(code, context)].flatMap(([caution, codes]) => {
    const mapped = codes.filter(({ system }) => system === GRIP_CAUTIONS);
    return mapped.length > 0 ? [{ caution, codes: mapped }] : [];
  });
}

function chartedLines(
  entry: Entry,
  observation: ObservationResource,
  own: MappedCodes,
  { moment, localCodes }: CautionContext & { readonly moment: Moment },
): readonly ChartedLine[] {
  const { code: concept, bodySite, valueBoolean } = observation;
  const { site, siteUnread } = siteOf({ concept, sites: bodySite ? [bodySite] : [] }, localCodes);
  // A value of another type may say that the line is out: it is not for this service to guess.
  const valueUnread = hasValue(observation) && typeof valueBoolean !== 'boolean';
  return own.map((mapped) => ({
    isThere: valueBoolean !== false,
    minute: moment.testedAtMinute ?? minuteOf(`${moment.testedOn}T00:00Z`),
    read: {
      ...mapped,
      reference: referenceOf(entry, 'Observation'),
      site,
      ...(siteUnread ? { siteUnread: true as const } : {}),
      ...(valueUnread ? { valueUnread: true as const } : {}),
      date: moment.testedOn,
      dateOf: 'charted',
      state: 'current',
    },
  }));
}

const WHY: Readonly<Record<string, UnusableRecord['why']>> = {
  STATUS_NOT_USABLE: 'status',
  MODIFIER_UNKNOWN: 'modifier',
  SUBJECT_MISSING: 'subject',
  TIME_IN_FUTURE: 'future',
};

/** Of one row of a flowsheet; nothing where the newest entry says that the line is not there. */
function newestOf(lines: readonly ChartedLine[]): readonly CautionRead[] {
  const rows = new Map<string, ChartedLine>();
  for (const line of lines) {
    const { caution, codes, site } = line.read;
    const key = JSON.stringify([caution, codes, site]);
    const known = rows.get(key);
    const isNewer = !known || line.minute > known.minute;
    // Of two entries of one moment the one that says that it is there is believed.
    if (isNewer || (line.minute === known.minute && line.isThere)) rows.set(key, line);
  }
  return [...rows.values()].flatMap(({ read, isThere }) => (isThere ? [read] : []));
}
