/** What made a result, from what, by which versions (STANDARDS PV1, PV2): one Provenance for each Observation and each later version. */
import type { Device, Provenance } from 'fhir/r4.js';
import { uuidFor } from '../derived-id.ts';
import type { Evaluation, Origin, Revision } from '../evaluation.ts';
import type { SetRef } from '../interpret/reference-set.ts';
import type { AppliedPanel } from '../reference/library.ts';
import { DATA_OPERATION, PROVENANCE_PARTICIPANT } from './codes.ts';
import { releaseCanonical, releaseId } from './release-identity.ts';
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
    policy: refs.map(releaseCanonical),
    activity: { coding: [{ system: DATA_OPERATION, code: 'CREATE' }], text: 'Grip strength interpretation' },
    agent: [byDevice(device.id ?? '')],
    entity: [...sources.charted, ...refs.map(libraryReference)].map((what) => ({ role: 'source', what })),
  };
  return { resource: provenance, origin };
}

/** What made the new version, and why (STANDARDS PV1). */
export function revisionProvenance(
  { id, version, kind, because }: Revision,
  { at }: Evaluation,
  deviceId: string,
): Provenance {
  const result = `Observation/${id}`;
  return {
    resourceType: 'Provenance',
    id: uuidFor(`${id} ${version}`, 'provenance'),
    meta: { versionId: '1', lastUpdated: at },
    target: [{ reference: `${result}/_history/${version}` }],
    recorded: at,
    activity: {
      coding: [{ system: DATA_OPERATION, code: 'UPDATE' }],
      text: `Grip strength result ${kind}`,
    },
    agent: [byDevice(deviceId)],
    entity: [
      { role: 'revision', what: { reference: `${result}/_history/${version - 1}` } },
      ...(because ? [{ role: 'source' as const, what: { reference: because.reference } }] : []),
    ],
  };
}

/** The software as the one that put a result together. */
function byDevice(deviceId: string): Provenance['agent'][number] {
  return {
    type: { coding: [{ system: PROVENANCE_PARTICIPANT, code: 'assembler' }] },
    who: { reference: `Device/${deviceId}` },
  };
}

/** The file of a set, rule or panel, as it is served here. */
function libraryReference(ref: SetRef) {
  return { reference: `Library/${releaseId(ref)}`, display: `sha256:${ref.digest}` };
}
