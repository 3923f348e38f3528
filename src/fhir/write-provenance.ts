/** What made one result, from what, by which versions (STANDARDS PV1, PV2): one Provenance for each Observation. */
import type { Device, Provenance } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Origin } from '../evaluation.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { CANONICAL, DATA_OPERATION, PROVENANCE_PARTICIPANT } from './codes.ts';
import type { Written } from './write-observation.ts';

export function writeProvenance(
  { resource, origin, sources, sets }: Written,
  { panel }: AppliedPanel,
  device: Device,
): { readonly resource: Provenance; readonly origin: Origin } {
  const refs = [panel.ref, ...sets];
  const id = uuidFor(resource.id ?? '', 'provenance');
  const provenance: Provenance = {
    resourceType: 'Provenance',
    id,
    meta: { versionId: '1', lastUpdated: origin.at },
    target: [{ reference: `Observation/${resource.id}` }],
    recorded: origin.at,
    policy: refs.map(({ kind, id: set, version }) => `${CANONICAL}/Library/${kind}-${set}|${version}`),
    activity: { coding: [{ system: DATA_OPERATION, code: 'CREATE' }], text: 'Grip strength interpretation' },
    agent: [
      {
        type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
        who: { reference: `Device/${device.id}` },
      },
    ],
    entity: [...sources.charted, ...refs.map(libraryReference)].map((what) => ({ role: 'source', what })),
  };
  return { resource: provenance, origin };
}

/** The file of a set, rule or panel, as it is served here. */
function libraryReference({ kind, id, version, digest }: SetRef) {
  return { reference: `Library/${kind}-${id}-${version}`, display: `sha256:${digest}` };
}
