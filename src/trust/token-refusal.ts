/** Why a token is not believed: for the log of the service only. Whoever sent it is told nothing (STANDARDS T9). */

export type TokenReason =
  | 'address-other'
  | 'token-form'
  | 'header-form'
  | 'claims-form'
  | 'issuer-unknown'
  | 'audience-other'
  | 'expired'
  | 'not-yet-valid'
  | 'life-too-long'
  | 'tenant-unknown'
  | 'jku-unknown'
  | 'key-unknown'
  | 'signature-wrong'
  | 'used-before';

export class TokenRefusal extends Error {
  override readonly name = 'TokenRefusal';
  readonly reason: TokenReason;
  /** Name of the configured client that the token claims to be of; null while that is not known. */
  readonly client: string | null;

  constructor(reason: TokenReason, client: string | null = null) {
    super(reason);
    this.reason = reason;
    this.client = client;
  }
}
