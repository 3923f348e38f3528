/** The Bundle of a search: pages, links, totals and what is included (STANDARDS X10, X12). */
import type { Bundle, FhirResource, Observation, Provenance } from 'fhir/r4.js';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { bundleOf, FHIR_DOOR, PATIENT, sitting } from '../fixtures.ts';
import { observationsOf, openForTests, type TestService } from '../service-for-tests.ts';

const ORIGIN = 'https://grip.example.org';
let service: TestService;
let filed: readonly Observation[];

const trialsOf = (days: readonly number[]) =>
  days.flatMap((day) =>
    sitting([31, 32, 30], [28, 29, 28.5], { id: `day-${day}`, at: `2026-11-0${day}T09:00:00Z` }),
  );

beforeAll(async () => {
  service = await openForTests();
  filed = observationsOf(await service.post(FHIR_DOOR.path, bundleOf(PATIENT, trialsOf([1, 2, 3, 4, 5]))));
});
afterAll(() => service.close());

async function bundle(query: string): Promise<Bundle<FhirResource>> {
  const reply = await service.get(query.startsWith('/') ? query : `/fhir/Observation?${query}`);
  expect(reply.status, `${query} ${JSON.stringify(reply.body.issue ?? '')}`).toBe(200);
  return reply.body as Bundle<FhirResource>;
}

const linkOf = ({ link }: Bundle, relation: string) => link?.find((each) => each.relation === relation)?.url;
const ids = ({ entry = [] }: Bundle<FhirResource>) => entry.map(({ resource }) => resource?.id ?? '');

async function pagesFrom(query: string, relation: string): Promise<Bundle<FhirResource>[]> {
  const pages = [await bundle(query)];
  for (let url = linkOf(pages[0] as Bundle, relation); url; url = linkOf(pages.at(-1) as Bundle, relation)) {
    pages.push(await bundle(url.replace(ORIGIN, '')));
    expect(pages.length).toBeLessThan(200);
  }
  return pages;
}

describe('the pages of a search', () => {
  it.each([1, 7, 20, 100])('with _count=%i hold every result once, there and back', async (count) => {
    const pages = await pagesFrom(`patient=invented-1&_count=${count}`, 'next');
    expect(pages).toHaveLength(Math.ceil(filed.length / count));
    expect(new Set(pages.flatMap(ids))).toEqual(new Set(filed.map(({ id }) => id)));
    expect(pages.flatMap(ids)).toHaveLength(filed.length);
    const last = linkOf(pages[0] as Bundle, 'last')?.replace(ORIGIN, '') ?? '';
    const back = await pagesFrom(last, 'previous');
    expect(back.map(ids)).toEqual(pages.map(ids).reverse());
    for (const page of pages) {
      expect(page.total).toBe(filed.length);
      const first = await bundle(linkOf(page, 'first')?.replace(ORIGIN, '') ?? '');
      expect(ids(first)).toEqual(ids(pages[0] as Bundle<FhirResource>));
      const self = await bundle(linkOf(page, 'self')?.replace(ORIGIN, '') ?? '');
      expect(ids(self)).toEqual(ids(page));
    }
  });

  it('have a full address each, no version in it, and a mode (bdl-7, bdl-8)', async () => {
    const { entry = [] } = await bundle('_count=100');
    for (const { fullUrl, resource, search } of entry) {
      expect(fullUrl).toBe(`${ORIGIN}/fhir/${resource?.resourceType}/${resource?.id}`);
      expect(search).toEqual({ mode: 'match' });
    }
    expect(new Set(entry.map(({ fullUrl }) => fullUrl)).size).toBe(entry.length);
  });

  it('are twenty long where nothing is asked, a hundred at most, and self says so', async () => {
    expect((await bundle('patient=invented-1')).entry).toHaveLength(Math.min(20, filed.length));
    const most = await bundle('_count=5000');
    expect(linkOf(most, 'self')).toBe(`${ORIGIN}/fhir/Observation?_count=100`);
  });

  it.each(['_count=0', '_summary=count', '_count=5&_summary=count'])(
    'are none with %s: the total only',
    async (query) => {
      const { entry, total, link } = await bundle(`patient=invented-1&${query}`);
      expect(entry).toBeUndefined();
      expect(total).toBe(filed.length);
      expect(link?.map(({ relation }) => relation)).toEqual(['self']);
    },
  );

  it('leave the total out with _total=none', async () => {
    expect(await bundle('_total=none')).not.toHaveProperty('total');
    expect((await bundle('_total=estimate')).total).toBe(filed.length);
  });

  it('after the last are empty, and lead back', async () => {
    const page = await bundle('_page=5000-999999&_count=10');
    expect(page.entry).toBeUndefined();
    expect(linkOf(page, 'next')).toBeUndefined();
  });

  it('keep the form that was asked for: _format, _pretty, _elements', async () => {
    const query = '_count=5&_format=json&_pretty=true&_elements=status';
    for (const page of await pagesFrom(query, 'next')) {
      for (const { url } of page.link ?? []) {
        expect([...new URL(url).searchParams].filter(([name]) => name !== '_page')).toEqual([
          ...new URLSearchParams(query),
        ]);
      }
    }
    // A browser that put the form in the address accepts nothing of ours by its header.
    const first = await bundle(query);
    const next = linkOf(first, 'next')?.replace(ORIGIN, '') ?? '';
    expect((await service.get(next, { accept: 'text/html' })).status).toBe(200);
  });

  it('of one patient hold nothing of another, whoever made the page', async () => {
    const next = linkOf(await bundle('patient=invented-1&_count=5'), 'next') ?? '';
    const page = new URL(next).searchParams.get('_page');
    expect((await bundle(`patient=somebody-else&_count=5&_page=${page}`)).entry).toBeUndefined();
  });
});

describe('_revinclude=Provenance:target', () => {
  it('adds the Provenance of each result of the page, and does not count it (X10)', async () => {
    const { entry = [], total } = await bundle('patient=invented-1&_count=7&_revinclude=Provenance:target');
    const matches = entry.filter(({ search }) => search?.mode === 'match');
    const included = entry.filter(({ search }) => search?.mode === 'include');
    expect(total).toBe(filed.length);
    expect(matches).toHaveLength(7);
    expect(included.map(({ resource }) => (resource as Provenance).target[0]?.reference).sort()).toEqual(
      matches.map(({ resource }) => `Observation/${resource?.id}`).sort(),
    );
    expect(included.every(({ resource }) => resource?.resourceType === 'Provenance')).toBe(true);
  });

  it('adds all of a full page', async () => {
    const { entry = [] } = await bundle('_count=100&_revinclude=Provenance:target');
    expect(entry.filter(({ search }) => search?.mode === 'include')).toHaveLength(
      Math.min(100, filed.length),
    );
  });

  it('is in the links of the next page', async () => {
    const first = await bundle('patient=invented-1&_count=7&_revinclude=Provenance:target');
    const next = await bundle(linkOf(first, 'next')?.replace(ORIGIN, '') ?? '');
    expect(next.entry?.filter(({ search }) => search?.mode === 'include')).toHaveLength(7);
  });
});

describe('POST _search', () => {
  const FORM = { 'content-type': 'application/x-www-form-urlencoded' };
  const post = (query: string, body: string, headers = FORM) =>
    service.post(`/fhir/Observation/_search${query}`, body, headers);

  it('answers as GET does, with links that a GET follows (X10)', async () => {
    const byPost = await post('', 'patient=invented-1&_count=5');
    expect(byPost.body).toEqual(await bundle('patient=invented-1&_count=5'));
  });

  it('takes parameters of the address and of the body together', async () => {
    const both = await post('?patient=invented-1', '_count=5&code=mean-per-hand');
    expect(both.body).toEqual(await bundle('patient=invented-1&_count=5&code=mean-per-hand'));
    expect((await post('?patient=invented-1', 'patient=nobody')).body.total).toBe(0);
  });

  it('reads plus signs and percents as forms write them, in UTF-8 only', async () => {
    expect((await post('', 'date=2026-11-01T09%3A00%3A00%2B00%3A00')).status).toBe(200);
    expect((await post('', 'date=2026-11-01T09:00:00+00:00')).status).toBe(400);
    const bytes = await service.app.inject({
      method: 'POST',
      url: '/fhir/Observation/_search',
      headers: FORM,
      payload: Buffer.from([0x5f, 0x69, 0x64, 0x3d, 0xc3]),
    });
    expect(bytes.statusCode).toBe(400);
    expect(bytes.json().resourceType).toBe('OperationOutcome');
  });

  it('without a body searches by the address', async () => {
    const reply = await service.app.inject({ method: 'POST', url: '/fhir/Observation/_search?_count=5' });
    expect(reply.json()).toEqual(await bundle('_count=5'));
  });

  it.each([
    ['application/json', 'null'],
    ['application/fhir+json', '{}'],
    ['application/fhir+json', '{"resourceType":"Parameters"}'],
    ['text/plain', '_count=5'],
    ['multipart/form-data; boundary=x', '--x--'],
  ])('refuses a body of %s: %s with 415 (X2)', async (type, body) => {
    const reply = await post('', body, { 'content-type': type });
    expect(reply.status).toBe(415);
    expect(reply.body.resourceType).toBe('OperationOutcome');
  });

  it.each(['/fhir/Observation/$interpret-grip', '/fhir', '/fhir/', '/cds-services/grip-interpretation'])(
    'is the only one that reads a form: POST %s refuses it with 415 (X2)',
    async (path) => expect((await service.post(path, '_count=5', FORM)).status).toBe(415),
  );
});
