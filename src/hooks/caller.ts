/** Who called, and what it is trusted with. */
export interface Caller {
  /** For the record; `open-access` where the deployment asks nobody. */
  readonly client: string;
  /** Organisation of the user, as the signed token of the client says; null when nothing says. For the record. */
  readonly tenant: string | null;
  /** Base URLs of FHIR servers that may be asked for what prefetch lacks, for this client. */
  readonly fhirServers: readonly string[];
  /** Address of this service as its clients know it, without a slash at its end. */
  readonly base: string;
  /** Whether evaluations have pages that a browser can open: they have no sign-in, so only while access is open. */
  readonly pages: boolean;
}
