/** Who asked through a hook, and what the call said besides its measurements, for the record. */
import type { Asked } from '../evaluate.ts';
import type { Caller } from './caller.ts';
import type { Envelope } from './envelope.ts';
import { keysOfRecord } from './fetch-record.ts';
import type { GatheredData } from './gather.ts';
import type { HookFacts } from './hook-facts.ts';

/** What one service has on record besides. */
export type OwnFacts = Pick<HookFacts, 'service' | 'hasMore'> & Partial<HookFacts>;

/** @param required keys without which the service cannot answer; absent: those of most services */
export function askedByHook(
  caller: Caller,
  { hook, instance, fhirServer, encounterId: encounter, userId }: Envelope,
  { data, required }: { readonly data: GatheredData; readonly required?: readonly string[] },
  facts: OwnFacts,
): Asked {
  return {
    door: 'cds-hooks',
    client: caller.client,
    ...(caller.tenant === null ? {} : { tenant: caller.tenant }),
    user: userId,
    hook: { hook, instance, fhirServer, encounter, ...keysOfRecord(data, required), ...facts },
  };
}
