/** Calls that this service makes itself: to one address that was allowed beforehand, within a time and a size, never further. */

export interface OutboundReply {
  readonly status: number;
  /** UTF-8; what is not UTF-8 is a fault. */
  readonly text: string;
  header(name: string): string | null;
}

export interface OutboundRequest {
  readonly headers: Readonly<Record<string, string>>;
  /** Gives up when it is aborted. */
  readonly signal: AbortSignal;
  /** Of the body, after decompression. */
  readonly maxBytes: number;
}

/** Why there is no reply. None of it says what the other side sent. */
export class OutboundFault extends Error {
  override readonly name = 'OutboundFault';
  readonly reason: 'unreachable' | 'timeout' | 'redirect' | 'too-large' | 'not-utf8';

  constructor(reason: OutboundFault['reason'], options?: ErrorOptions) {
    super(reason, options);
    this.reason = reason;
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
    const text = await readText(reply, maxBytes);
    return { status: reply.status, text, header: (name) => reply.headers.get(name) };
  } catch (cause) {
    if (cause instanceof OutboundFault) throw cause;
    throw new OutboundFault(signal.aborted ? 'timeout' : 'unreachable', { cause });
  }
};

/** Stops reading as soon as there is too much, whatever the reply said of its length. */
async function readText({ body }: Response, maxBytes: number): Promise<string> {
  const chunks: Uint8Array[] = [];
  let size = 0;
  for await (const chunk of body ?? []) {
    size += chunk.byteLength;
    // Leaving the loop cancels the body, which closes the connection.
    if (size > maxBytes) throw new OutboundFault('too-large');
    chunks.push(chunk);
  }
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: false }).decode(Buffer.concat(chunks));
  } catch (cause) {
    throw new OutboundFault('not-utf8', { cause });
  }
}
