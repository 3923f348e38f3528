/** Searches by date against a comparison written from the words of R4 alone, over generated times (STANDARDS X10). */
import fc from 'fast-check';
import type { Observation } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, PATIENT, sitting } from '../fixtures.ts';
import { codesOf, observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

/** As a hospital may chart them: by the day, by the second, by the millisecond, in several zones. */
const CHARTED = [
  '2025-12-31',
  '2025-12-31T23:30:00-05:00',
  '2026-01-01',
  '2026-01-01T00:00:00Z',
  '2026-02-28T23:59:59Z',
  '2026-03-01',
  '2026-03-01T00:30:00+14:00',
  '2026-06-15T12:30:00Z',
  '2026-06-15T12:30:30.250Z',
  '2026-06-15T08:30:00-04:00',
  '2026-06-15',
  '2026-06-30T23:59:59.999Z',
] as const;

let service: TestService;
let stored: readonly Observation[];

beforeAll(async () => {
  service = await openForTests();
  for (const [index, at] of CHARTED.entries()) {
    const patient = { ...PATIENT, id: `dated-${index}` };
    const trials = sitting([31], [], { id: `dated-${index}`, subject: `Patient/dated-${index}` });
    const charted = trials.map((trial) => ({ ...trial, effectiveDateTime: at }));
    const reply = await service.post(FHIR_DOOR.path, bundleOf(patient, charted));
    expect(reply.status).toBe(200);
  }
  stored = observationsOf(await service.get('/fhir/Observation?_count=100'));
});
afterAll(() => service.close());

/** A stretch of time in milliseconds, its end left out. */
interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** The instants that a text can mean; without a zone it counts as UTC. */
function meant(text: string): Stretch {
  const [date = '', rest = ''] = text.split('T');
  const [year = 0, month, day] = date.split('-').map(Number);
  if (day === undefined) {
    if (month === undefined) return { from: Date.UTC(year, 0, 1), to: Date.UTC(year + 1, 0, 1) };
    return { from: Date.UTC(year, month - 1, 1), to: Date.UTC(year, month, 1) };
  }
  const midnight = Date.UTC(year, (month ?? 1) - 1, day);
  if (!rest) return { from: midnight, to: midnight + 24 * 3_600_000 };
  const [, clock = '', sign = '+', zoneHours = '0', zoneMinutes = '0'] =
    /^([\d:.]+)(?:Z|([+-])(\d\d):(\d\d))?$/.exec(rest) ?? [];
  const offset = (sign === '-' ? -1 : 1) * (Number(zoneHours) * 60 + Number(zoneMinutes)) * 60_000;
  const [hours = 0, minutes = 0, seconds] = clock.split(':').map(Number);
  const from = midnight + hours * 3_600_000 + minutes * 60_000 + Math.round((seconds ?? 0) * 1_000) - offset;
  const width = seconds === undefined ? 60_000 : clock.includes('.') ? 1 : 1_000;
  return { from, to: from + width };
}

const contains = (outer: Stretch, inner: Stretch) => outer.from <= inner.from && inner.to <= outer.to;
const overlap = (a: Stretch, b: Stretch) => Math.max(a.from, b.from) < Math.min(a.to, b.to);
const above = ({ to }: Stretch): Stretch => ({ from: to, to: Number.POSITIVE_INFINITY });
const below = ({ from }: Stretch): Stretch => ({ from: Number.NEGATIVE_INFINITY, to: from });

/** R4, search, "date": the words of each prefix. */
const HOLDS: Readonly<Record<string, (asked: Stretch, target: Stretch) => boolean>> = {
  '': contains,
  eq: contains,
  ne: (asked, target) => !contains(asked, target),
  gt: (asked, target) => overlap(above(asked), target),
  lt: (asked, target) => overlap(below(asked), target),
  ge: (asked, target) => overlap(above(asked), target) || contains(asked, target),
  le: (asked, target) => overlap(below(asked), target) || contains(asked, target),
  sa: (asked, target) => !overlap(asked, target) && contains(above(asked), target),
  eb: (asked, target) => !overlap(asked, target) && contains(below(asked), target),
};

const two = (value: number) => String(value).padStart(2, '0');

/** Near the charted times, in every precision. */
const anyDate = fc
  .record({
    near: fc.constantFrom(...CHARTED),
    shift: fc.constantFrom(
      0,
      0,
      1,
      -1,
      1_000,
      -1_000,
      60_000,
      3_600_000,
      -86_400_000,
      86_400_000,
      2_764_800_000,
    ),
    precision: fc.constantFrom('year', 'month', 'day', 'minute', 'second', 'millisecond'),
    zone: fc.constantFrom('Z', '', '+00:00', '-05:00', '+05:30', '+14:00'),
  })
  .map(({ near, shift, precision, zone }) => {
    const at = meant(near).from + shift;
    const [, sign = '+', hours = '0', minutes = '0'] = /([+-])(\d\d):(\d\d)/.exec(zone) ?? [];
    const offset = (sign === '-' ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) * 60_000;
    const local = new Date(at + offset);
    const date = [local.getUTCFullYear(), two(local.getUTCMonth() + 1), two(local.getUTCDate())];
    const days = ['year', 'month', 'day'].indexOf(precision);
    if (days >= 0) return date.slice(0, days + 1).join('-');
    const length = precision === 'minute' ? 16 : precision === 'second' ? 19 : 23;
    return `${local.toISOString().slice(0, length)}${zone}`;
  });

const idsOf = (resources: readonly Observation[]) => resources.map(({ id }) => id ?? '').sort();

async function found(query: string): Promise<readonly string[]> {
  const reply = await service.get(`/fhir/Observation?_count=100&${query}`);
  expect(reply.status, `${query} ${JSON.stringify(reply.body.issue ?? '')}`).toBe(200);
  return idsOf(observationsOf(reply));
}

const satisfying = (prefix: string, date: string) =>
  idsOf(
    stored.filter(({ effectiveDateTime = '' }) => HOLDS[prefix]?.(meant(date), meant(effectiveDateTime))),
  );

describe('a search by date', () => {
  it('has something to tell apart', () => {
    expect(stored.length, 'all fit on one page').toBeLessThan(100);
    expect(new Set(stored.map(({ effectiveDateTime }) => effectiveDateTime))).toEqual(new Set(CHARTED));
  });

  it.each(Object.keys(HOLDS))(
    'with the prefix %j finds what R4 says, over generated dates (X10)',
    async (prefix) => {
      await fc.assert(
        fc.asyncProperty(anyDate, async (date) => {
          const expected = satisfying(prefix, date);
          expect(await found(`date=${prefix}${encodeURIComponent(date)}`), `${prefix}${date}`).toEqual(
            expected,
          );
        }),
        { numRuns: 60 },
      );
    },
  );

  it('with two dates joined by a comma finds what either does, twice the parameter what both do', async () => {
    await fc.assert(
      fc.asyncProperty(anyDate, anyDate, async (one, other) => {
        const [after, before] = [satisfying('ge', one), satisfying('lt', other)];
        const [a, b] = [encodeURIComponent(`ge${one}`), encodeURIComponent(`lt${other}`)];
        const either = [...new Set([...after, ...before])].sort();
        expect(await found(`date=${a},${b}`)).toEqual(either);
        expect(await found(`date=${a}&date=${b}`)).toEqual(after.filter((id) => before.includes(id)));
      }),
      { numRuns: 40 },
    );
  });

  it.each([
    'yesterday',
    '2026-02-30',
    '2026-13',
    '2026-00-10',
    '26-01-01',
    '2026-1-1',
    '2026-01-01T25:00:00Z',
    '2026-01-01T10',
    '2026-01-01T10:00:00+1:00',
    'ap2026-01-01',
    'xx2026-01-01',
    'ge',
    '2026-01-01,',
    '2026-01-01 10:00',
  ])('refuses %j with 400', async (value) => {
    const reply = await service.get(`/fhir/Observation?date=${encodeURIComponent(value)}`);
    expect(reply.status).toBe(400);
    expect(codesOf(reply)).toEqual(['SEARCH_INVALID']);
    expect(reply.text).not.toContain(value.length > 2 ? value : '"ge"');
  });

  it('takes a plus sign that was not encoded for what it is in an address: a space', async () => {
    expect((await service.get('/fhir/Observation?date=2026-03-01T00:30:00+14:00')).status).toBe(400);
    expect(await found('date=2026-03-01T00:30:00%2B14:00')).toHaveLength(
      stored.filter(({ effectiveDateTime }) => effectiveDateTime === '2026-03-01T00:30:00+14:00').length,
    );
  });
});

describe('the order of results', () => {
  const moments = async (query: string) =>
    observationsOf(await service.get(`/fhir/Observation?_count=100&${query}`)).map(
      ({ effectiveDateTime = '' }) => meant(effectiveDateTime).from,
    );
  const rising = (values: readonly number[]) => [...values].sort((a, b) => a - b);

  it('is by date, as asked, and the latest first where nothing is asked', async () => {
    const up = await moments('_sort=date');
    expect(up).toEqual(rising(up));
    expect(up).toHaveLength(stored.length);
    expect(await moments('_sort=-date')).toEqual(rising(up).reverse());
    expect(await moments('')).toEqual(rising(up).reverse());
  });

  it('by _lastUpdated is as filed, or the other way', async () => {
    const updated = async (sort: string) =>
      observationsOf(await service.get(`/fhir/Observation?_count=100&_sort=${sort}`)).map(
        ({ meta }) => meta?.lastUpdated ?? '',
      );
    const up = await updated('_lastUpdated');
    expect(up).toEqual([...up].sort());
    expect(await updated('-_lastUpdated')).toEqual([...up].sort().reverse());
  });

  it.each(['code', 'date,-date', 'date,', '', '-', 'Date', '--date'])(
    '%j is not offered: 400',
    async (sort) => {
      const reply = await service.get(`/fhir/Observation?_sort=${sort}`);
      expect(reply.status).toBe(400);
      expect(codesOf(reply)).toEqual(['SEARCH_INVALID']);
    },
  );
});
