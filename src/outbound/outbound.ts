/** Calls that this service makes itself: to one address that was allowed beforehand, within a time and a size, never further. */

export interface OutboundReply {
  readonly status: number;
  /** UTF-8, without a byte order mark; what is not UTF-8 is a fault. */
  readonly text: string;
  /** Of the body, after decompression. */
  readonly bytes: number;
  header(name: string): string | null;
}

export interface OutboundRequest {
  readonly headers: Readonly<Record<string, string>>;
  /** Gives up when it is aborted, whether connecting, waiting or reading. */
  readonly signal: AbortSignal;
  /** Of the body, after decompression. */
  readonly maxBytes: number;
}

/** Why there is no reply. None of it says what was sent, either way: an error of `fetch` quotes a header that it refuses. */
export class OutboundFault extends Error {
  override readonly name = 'OutboundFault';
  readonly reason: 'unreachable' | 'timeout' | 'redirect' | 'too-large' | 'not-utf8';
  /** Of the system or of undici, e.g. `ECONNREFUSED`, `CERT_HAS_EXPIRED`; null when there is none. */
  readonly code: string | null;

  constructor(reason: OutboundFault['reason'], code: string | null = null) {
    super(code ? `${reason}: ${code}` : reason);
    this.reason = reason;
    this.code = code;
  }
}

/**
 * GET of one address. A redirect is a fault: it leads to where nobody allowed.
 * @throws OutboundFault
 */
export type Outbound = (url: string, request: OutboundRequest) => Promise<OutboundReply>;

export const outbound: Outbound = async (url, { headers, signal, maxBytes }) => {
  try {
    const reply = await fetch(url, { headers, signal, redirect: 'manual' });
    if (reply.status >= 300 && reply.status < 400 && reply.status !== 304) {
      await reply.body?.cancel();
      throw new OutboundFault('redirect');
    }
    const body = await readBody(reply, maxBytes);
    return {
      status: reply.status,
      text: decode(body),
      bytes: body.byteLength,
      header: (name) => reply.headers.get(name),
    };
  } catch (error) {
    if (error instanceof OutboundFault) throw error;
    throw new OutboundFault(signal.aborted ? 'timeout' : 'unreachable', codeOf(error));
  }
};

/** Stops reading as soon as there is too much, whatever the reply said of its length. */
async function readBody({ body }: Response, maxBytes: number): Promise<Buffer> {
  const chunks: Uint8Array[] = [];
  let size = 0;
  for await (const chunk of body ?? []) {
    size += chunk.byteLength;
    // Leaving the loop cancels the body, which closes the connection.
    if (size > maxBytes) throw new OutboundFault('too-large');
    chunks.push(chunk);
  }
  return Buffer.concat(chunks);
}

function decode(body: Buffer): string {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: false }).decode(body);
  } catch {
    throw new OutboundFault('not-utf8');
  }
}

function codeOf(error: unknown): string | null {
  const { code } = (error as { cause?: { code?: unknown } }).cause ?? {};
  return typeof code === 'string' && /^[A-Z0-9_]+$/.test(code) ? code : null;
}
