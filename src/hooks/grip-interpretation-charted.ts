/** The hook service `grip-interpretation-charted`, for the organisation's own hook: what was just charted, and what it means. */
import { RequestError } from '../errors.ts';
import { collectionForm, requireForm } from '../fhir/forms.ts';
import { placedEntries } from '../fhir/read-request.ts';
import type { ServiceDescription } from './discovery.ts';
import { readEnvelope } from './envelope.ts';
import { gather } from './gather.ts';
import { answerReading, type HookCall } from './grip-interpretation.ts';

const AT = 'request.context.observations';

/**
 * @returns `{cards}` as JSON text
 * @throws RequestError
 */
export async function answerGripInterpretationCharted(
  service: ServiceDescription,
  { deps, caller, body }: HookCall,
): Promise<string> {
  const envelope = readEnvelope(body, service);
  const charted = readCharted(envelope.context.observations);
  const data = await gather(envelope, service, caller, deps);
  const readFacts = () => ({ charted: charted.map(referenceOf) });
  return answerReading(deps, { caller, envelope, data, service: service.id, readFacts, charted });
}

type Entries = ReturnType<typeof placedEntries>;

/** @throws RequestError BODY_INVALID unless it is a Bundle of type collection (context rules of CDS Hooks 2.0.1) */
function readCharted(observations: unknown): Entries {
  if (observations === undefined) {
    throw new RequestError('BODY_INVALID', [{ expression: AT, text: 'is required' }]);
  }
  requireForm(collectionForm, observations, AT);
  return placedEntries(observations, AT).filter(({ resourceType }) => resourceType === 'Observation');
}

/** As the findings name it, without its version. */
function referenceOf({ resource, fullUrl, expression }: Entries[number]): string {
  const { id } = resource as { id?: unknown };
  return typeof id === 'string' && id !== '' ? `Observation/${id}` : (fullUrl ?? `#${expression}`);
}
