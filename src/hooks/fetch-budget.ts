/** What all fetches of one call share: a time, and a number of bytes. */

/** Issue "CDS Hooks complete": 400 ms, so that the answer comes in the 500 ms of CDS Hooks 2.0.1 (STANDARDS G1). */
export const BUDGET_MS = 400;

/** Of one answer, decompressed: more than twice a page of 100 Observations of 4 KB; parsed within some 10 ms. */
export const MOST_BYTES = 1_024 * 1_024;

/** Of all answers of a call, decompressed. */
export const MOST_BYTES_OF_CALL = 8 * MOST_BYTES;

export interface Budget {
  /** Aborted when the time is over, and when the budget is closed. */
  readonly signal: AbortSignal;
  msLeft(): number;
  /** Bytes that the next answer may have; they are set aside until `giveBack`. */
  take(): number;
  giveBack(bytes: number): void;
  /** Ends what is still under way. */
  close(): void;
}

export function openBudget(ms = BUDGET_MS): Budget {
  const controller = new AbortController();
  const endsAt = performance.now() + ms;
  const timer = setTimeout(() => controller.abort(), ms);
  let bytesLeft = MOST_BYTES_OF_CALL;
  return {
    signal: controller.signal,
    msLeft: () => Math.max(0, endsAt - performance.now()),
    take: () => {
      const taken = Math.min(MOST_BYTES, bytesLeft);
      bytesLeft -= taken;
      return taken;
    },
    giveBack: (bytes) => {
      bytesLeft += bytes;
    },
    close: () => {
      clearTimeout(timer);
      controller.abort();
    },
  };
}
